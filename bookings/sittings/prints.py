from itertools import count

from bookings.sittings.models import ClayPrint
from studio.accounts.models import Unit
from studio.jobs.models import Job
from studio.jobs.querysets import JobQuerySet, PieceQuerySet
from studio.stages import Stage


def pieces_with_print(job: Job) -> PieceQuerySet:
    """Select the job's pieces whose print is taken and whole."""
    return job.pieces.on_the_job().filter(prints__live=True, prints__outcome="taken")


def jobs_without_sitting(unit: Unit) -> JobQuerySet:
    """Select booked jobs without a planned sitting: cancelled, put off, or a print was lost."""
    return unit.jobs.at(Stage.BOOKED).exclude(sittings__state="planned")


def trays_in_use(unit: Unit) -> set[str]:
    """Return the numbers of the trays that hold a whole print. One query."""
    taken = ClayPrint.objects.taken().filter(
        sitting__unit=unit, piece__job__stage__in=(Stage.BOOKED, Stage.CLAY_REST)
    )
    return set(taken.exclude(tray="").values_list("tray", flat=True))


def next_tray(unit: Unit) -> str:
    """Return the lowest tray number that is not in use, from "1" on. One query."""
    used = trays_in_use(unit)
    return next(str(number) for number in count(1) if str(number) not in used)
