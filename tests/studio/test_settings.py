"""Settings: safe by default, loud when they are not."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
SECRET = "a-secret-of-this-installation-alone-0123456789-abcdefghij-klmnopqrst"


def manage(*words, **environment):
    """manage.py as somebody's server runs it: none of this test's own environment but the path."""
    return subprocess.run(
        [sys.executable, "manage.py", *words],
        cwd=ROOT,
        env={"PATH": os.environ["PATH"], "LANG": "C.UTF-8", **environment},
        capture_output=True,
        text=True,
        check=False,
    )


def test_a_server_starts_without_a_warning():
    checked = manage("check", "--deploy", SECRET_KEY=SECRET, ALLOWED_HOSTS="casts.example.com")
    assert checked.returncode == 0, checked.stderr
    assert "no issues (0 silenced)" in checked.stdout + checked.stderr


@pytest.mark.parametrize("secret", ["", "only-for-development-" + "x" * 40])
def test_a_server_refuses_to_start_with_the_default_secret(secret):
    refused = manage("check", SECRET_KEY=secret, ALLOWED_HOSTS="casts.example.com")
    assert refused.returncode != 0
    assert "SECRET_KEY is not set" in refused.stderr


def test_a_weak_secret_is_warned_of():
    checked = manage("check", "--deploy", SECRET_KEY="short", ALLOWED_HOSTS="casts.example.com")
    assert "security.W009" in checked.stdout + checked.stderr


def test_a_misspelt_switch_is_not_taken_for_a_no():
    refused = manage("check", SECRET_KEY=SECRET, CASTSTEAD_HTTPS="perhaps")
    assert refused.returncode != 0
    assert "CASTSTEAD_HTTPS" in refused.stderr
