"""The control of test_processes.py: SQLite as Django would open it, reading before it locks."""

from studio.settings import *  # noqa: F403
from studio.settings import DATABASES

DATABASES["default"]["OPTIONS"] = {"init_command": "PRAGMA journal_mode=WAL;"}
