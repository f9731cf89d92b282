"""The site with one kind of work more, which test_worker.py kills in the middle."""

from studio.settings import *  # noqa: F403
from studio.settings import INSTALLED_APPS

INSTALLED_APPS = [*INSTALLED_APPS, "tests.faults.halting.Halting"]
