"""Tests that run whole as a proof and as a small slice in bin/test."""

import os
import subprocess
import sys

_ASKED = "CASTSTEAD_PROVE_WHOLE"

IS_WHOLE = os.environ.get(_ASKED) == "1"


def run_whole(*tests: str) -> list[str]:
    """Run these test files whole; return a sentence if one of them is red."""
    command = [sys.executable, "-m", "pytest", "-n", "2", "-q", "-p", "no:randomly", *tests]
    done = subprocess.run(command, env=os.environ | {_ASKED: "1"}, check=False)
    return [] if done.returncode == 0 else ["a test is red, see above"]
