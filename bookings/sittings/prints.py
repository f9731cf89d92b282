from itertools import count
from typing import TYPE_CHECKING

from studio.jobs.models import Job
from studio.stages import Stage

if TYPE_CHECKING:
    from bookings.sittings.models import Impression  # noqa: F401
    from studio.accounts.models import Unit
    from studio.jobs.querysets import (
        JobQuerySet,
        PieceQuerySet,
    )


def impressed_pieces(job: "Job") -> "PieceQuerySet":
    """The job's pieces whose print is taken and whole."""
    return job.pieces.on_the_job().filter(impressions__live=True, impressions__outcome="taken")


def jobs_without_a_date(unit: "Unit") -> "JobQuerySet":
    """Booked jobs of a unit that wait for another sitting: cancelled, put off or
    with a lost print.
    """
    return unit.jobs.at(Stage.BOOKED).exclude(sittings__state="planned")


def trays_in_use(unit: "Unit") -> set[str]:
    """The numbers of the trays that carry a whole print now. One query."""
    from bookings.sittings.models import Impression  # noqa: PLC0415 - models import their query sets

    taken = Impression.objects.taken().filter(
        sitting__unit=unit, piece__job__stage__in=(Stage.BOOKED, Stage.CLAY_REST)
    )
    return set(taken.exclude(tray="").values_list("tray", flat=True))


def next_tray(unit: "Unit") -> str:
    """The lowest number that no tray with a whole print carries, "1" to begin with. One query."""
    used = trays_in_use(unit)
    return next(str(number) for number in count(1) if str(number) not in used)
