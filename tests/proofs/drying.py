"""The forecast and the gate of drying against a thousand histories of another solver, and against slow slabs."""

from tests.proofs.whole import run_whole


def prove(arguments: list[str]) -> list[str]:
    return run_whole(
        "tests/production/drying/test_forecast.py",
        "tests/reference/test_drying_histories.py",
        *arguments,
    )
