"""Why a sitting cannot be booked: time, overlaps, ages, limbs already ordered. Each check returns sentences."""

from collections.abc import Iterable
from datetime import date, datetime, timedelta

from bookings import times
from bookings.sittings.models import Sitting
from bookings.sittings.sitters import advise
from studio import units
from studio.accounts.models import Unit
from studio.families.models import Child
from studio.jobs.models import Piece
from studio.limbs import Limb
from studio.stages import OPEN

# A sitting may be entered later from notes on paper; a mistyped year is caught.
MAX_DAYS_BACK = 30

MAX_DAYS_AHEAD = 730

MAX_MINUTES = 480


def problems(
    unit: Unit,
    children: Iterable[Child],
    starts_at: datetime,
    minutes: int,
    *,
    young_why: str,
    at: datetime,
    but: Sitting | None = None,
) -> list[str]:
    """Return what is wrong with a sitting's time, overlaps and ages, one sentence each; [] if nothing is.

    `at` is now, `but` the sitting being moved; with a reason `young_why` a too early one passes.
    """
    day = times.local_day(starts_at, unit.time_zone)
    return [
        *time_problems(starts_at, minutes, at=at),
        *overlap_problems(unit, starts_at, minutes, but=but),
        *age_problems(unit, children, day, young_why=young_why),
    ]


def time_problems(starts_at: datetime, minutes: int, *, at: datetime) -> list[str]:
    """Return what is wrong with start and length of a sitting; `at` is now."""
    found = []
    if not 0 < minutes <= MAX_MINUTES:
        found.append(f"A sitting lasts between 1 and {MAX_MINUTES} minutes.")
    if starts_at < at - timedelta(days=MAX_DAYS_BACK):
        found.append(
            f"This time lies more than {MAX_DAYS_BACK} days back. A sitting held already "
            f"can be written up for {MAX_DAYS_BACK} days: check the date."
        )
    if starts_at > at + timedelta(days=MAX_DAYS_AHEAD):
        found.append("This time lies more than two years ahead: check the year.")
    return found


def overlap_problems(
    unit: Unit, starts_at: datetime, minutes: int, *, but: Sitting | None = None
) -> list[str]:
    """Return a sentence for each planned sitting that overlaps; `but` is the sitting being moved. One query."""
    taken = unit.sittings.overlapping(starts_at, starts_at + timedelta(minutes=minutes))
    if but:
        taken = taken.exclude(pk=but.pk)
    return [
        f"The diary is taken: {sitting.job.family} "
        f"({times.format_time(sitting.starts_at, unit.time_zone)}–"
        f"{times.to_local(sitting.ends_at, unit.time_zone):%H:%M}, job {sitting.job})."
        for sitting in taken.soonest_first().select_related("job__family")
    ]


def age_problems(unit: Unit, children: Iterable[Child], on: date, *, young_why: str) -> list[str]:
    """Return a sentence for each child too young on a day; with a reason (`young_why`) only for one not born yet."""
    found = []
    for child in dict.fromkeys(children):
        advice = advise(unit, child, on)
        if advice.verdict == "before_birth":
            found.append(
                f"{child.first_name} is born on {units.day(child.born_on, on)}: "
                "the sitting cannot come before that."
            )
        elif advice.verdict == "too_young" and not young_why.strip():
            found.append(
                f"{child.first_name}: {advice.sentence} Write why it is right all the same, "
                "or choose a later day."
            )
    return found


def duplicate_problems(wanted: Iterable[tuple[Child, Limb]]) -> list[str]:
    """Return a sentence for each of these limbs that is already on an open job. One query."""
    pairs = set(wanted)
    open_pieces = Piece.objects.on_the_job().filter(
        child__in={child for child, _ in pairs}, job__stage__in=OPEN
    )
    return [
        f"{piece.child.first_name}’s {piece.get_limb_display()} is already on job {piece.job} "
        f"({piece.job.stage_words.lower()}): move its sitting, or book it again there."
        for piece in open_pieces.select_related("child", "job")
        if (piece.child, Limb(piece.limb)) in pairs
    ]
