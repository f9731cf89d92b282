"""Register the models of the rooms of studio with Django; never import from here."""

from studio.accounts.models import Membership, Unit, User
from studio.families.models import Child, Family
from studio.jobs.models import Job, JobEvent, Piece
from studio.tablet.models import TabletEntry
from studio.work.models import Work

__all__ = [
    "Child",
    "Family",
    "Job",
    "JobEvent",
    "Membership",
    "Piece",
    "TabletEntry",
    "Unit",
    "User",
    "Work",
]
