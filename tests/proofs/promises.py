"""How many promises are kept in simulated years of a busy unit."""

from tests.proofs.whole import run_whole


def prove(arguments: list[str]) -> list[str]:
    return run_whole("tests/production/planning/test_year.py", *arguments)
