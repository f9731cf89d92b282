"""What stands against a sitting, one sentence each; an action refuses with all of them at once."""

from collections.abc import Iterable
from datetime import date, datetime, timedelta

from bookings import ages, slots
from bookings.models import Sitting
from studio import units
from studio.models import Child, Limb, Piece, Unit
from studio.stages import OPEN

# A sitting may be written up afterwards from paper notes, and a year mistyped is caught.
WRITTEN_UP_WITHIN_DAYS = 30
AHEAD_AT_MOST_DAYS = 730
LONGEST_MINUTES = 480


def to_time(starts_at: datetime, minutes: int, *, at: datetime) -> list[str]:
    """Against a start and a length, as seen at `at`."""
    found = []
    if not 0 < minutes <= LONGEST_MINUTES:
        found.append(f"A sitting lasts between 1 and {LONGEST_MINUTES} minutes.")
    if starts_at < at - timedelta(days=WRITTEN_UP_WITHIN_DAYS):
        found.append(
            f"This time lies more than {WRITTEN_UP_WITHIN_DAYS} days back. A sitting held already "
            f"can be written up for {WRITTEN_UP_WITHIN_DAYS} days: check the date."
        )
    if starts_at > at + timedelta(days=AHEAD_AT_MOST_DAYS):
        found.append("This time lies more than two years ahead: check the year.")
    return found


def to_slot(
    unit: Unit, starts_at: datetime, minutes: int, *, but: Sitting | None = None
) -> list[str]:
    """Against the place in the diary: every planned sitting that it would run into."""
    taken = unit.sittings.overlapping(starts_at, starts_at + timedelta(minutes=minutes))
    if but:
        taken = taken.exclude(pk=but.pk)
    return [
        f"The diary is taken: {sitting.job.family} "
        f"({slots.say_moment(sitting.starts_at, unit.time_zone)}–"
        f"{slots.local(sitting.ends_at, unit.time_zone):%H:%M}, job {sitting.job})."
        for sitting in taken.soonest_first().select_related("job__family")
    ]


def to_ages(unit: Unit, children: Iterable[Child], on: date, *, young_why: str) -> list[str]:
    """Against the children's ages on a day; a written reason lets the young ones pass."""
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


def to_pieces(wanted: Iterable[tuple[Child, Limb]]) -> list[str]:
    """Against limbs that an open job already has: nothing is sat for twice by mistake."""
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


def advise(unit: Unit, child: Child, on: date) -> ages.Advice:
    """The advice for a child on a day, by the unit's own ages."""
    return ages.advise(
        child.born_on,
        child.due_on,
        on,
        earliest_weeks=unit.earliest_weeks,
        best_months=unit.best_months,
    )
