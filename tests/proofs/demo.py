"""The demo can be loaded at any moment of the year."""

from tests.proofs.whole import run_whole


def prove(arguments: list[str]) -> list[str]:
    return run_whole("tests/demo_data/test_loading.py", *arguments)
