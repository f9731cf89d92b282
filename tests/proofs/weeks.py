"""Two hundred generated weeks against the optimum that another solver proved."""

from tests.proofs.whole import run_whole


def prove(arguments: list[str]) -> list[str]:
    return run_whole("tests/production/planning/test_proof.py", *arguments)
