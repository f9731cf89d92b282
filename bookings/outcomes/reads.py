from datetime import datetime
from typing import TYPE_CHECKING

from django.db import models

from bookings import times
from bookings.outcomes import lessons
from studio import event_words

if TYPE_CHECKING:
    from bookings.sittings.models import Impression, Sitting  # noqa: F401
    from studio.accounts.models import Unit
    from studio.jobs.models import JobEvent


def prints_since(unit: "Unit", since: datetime) -> list[lessons.Print]:
    """The prints of finished sittings that began after `since`, as facts to learn from. One query."""
    from bookings.sittings.models import Impression, Sitting  # noqa: PLC0415 - models import their query sets
    from studio.limbs import Limb  # noqa: PLC0415

    rows = Impression.objects.filter(
        sitting__unit=unit,
        sitting__state="done",
        sitting__starts_at__gte=since,
        outcome__in=("taken", "not_today"),
    ).values_list(
        *("piece__child__born_on", "piece__limb", "sitting__place", "sitting__starts_at"),
        *("tries", "outcome", "live"),
    )
    return [
        lessons.Print(
            age_days=(times.local_day(starts_at, unit.time_zone) - born_on).days,
            limb=Limb(limb).label,
            place=Sitting.Place(place).label,
            tries=tries,
            put_off=outcome == "not_today",
            lost=outcome == "taken" and not live,
        )
        for born_on, limb, place, starts_at, tries, outcome, live in rows
    ]


def said_since(unit: "Unit", since: datetime) -> list[lessons.Said]:
    """What was said of prints, casts and sittings that had to be done again. One query."""
    from studio.jobs.models import JobEvent  # noqa: PLC0415 - as above

    again = models.Q(what="log_impression", facts__outcome__in=("repeat", "not_today"))
    others = models.Q(what__in=("lose_impression", "spoil_piece", "cancel_sitting", "book_again"))
    events = JobEvent.objects.filter(again | others, job__unit=unit, at__gte=since)
    return [
        lessons.Said(event.job_id, event.what, event.subject_id, _wrong(event), event.why)
        for event in events.oldest_first()
    ]


def _wrong(event: "JobEvent") -> tuple[str, ...]:
    """What was marked as wrong with a print or a cast."""
    from bookings.sittings.models import MARKS  # noqa: PLC0415 - as above

    if event.what == "log_impression":
        return tuple(wrong for mark, (_, wrong) in MARKS.items() if event.facts.get(mark) is False)
    if event.what == "spoil_piece":
        return (event_words.read(event.what, event.facts).words({}),)
    return ()
