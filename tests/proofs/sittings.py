"""Whether sixty random sittings in each browser engine, over a poor link, arrive exactly once."""

from tests.proofs.whole import run_whole


def prove(arguments: list[str]) -> list[str]:
    """Run the tests of both engines one after the other: WebKitGTK fails beside another browser."""
    tests = "tests/browser/test_tablet_two_engines.py"
    return run_whole(tests, "-n", "0", "-k", "random_sittings", *arguments)
