from datetime import datetime

from django.db import models

from bookings import times
from bookings.outcomes import lessons
from bookings.sittings.models import MARKS, ClayPrint, Sitting
from studio import event_words
from studio.accounts.models import Unit
from studio.jobs.models import JobEvent
from studio.limbs import Limb


def prints_since(unit: Unit, since: datetime) -> list[lessons.Print]:
    """List the prints of finished sittings that began at `since` or later. One query."""
    rows = ClayPrint.objects.filter(
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


def repeat_events_since(unit: Unit, since: datetime) -> list[lessons.RepeatEvent]:
    """List the events since `since` by which a print, cast or sitting had to be done again. One query."""
    again = models.Q(what="log_print", facts__outcome__in=("repeat", "not_today"))
    others = models.Q(what__in=("lose_print", "spoil_piece", "cancel_sitting", "book_again"))
    events = JobEvent.objects.filter(again | others, job__unit=unit, at__gte=since)
    return [
        lessons.RepeatEvent(event.job_id, event.what, event.subject_id, _wrong(event), event.why)
        for event in events.oldest_first()
    ]


def _wrong(event: JobEvent) -> tuple[str, ...]:
    """Faults that were marked on the print or the cast of an event, in words."""
    if event.what == "log_print":
        return tuple(wrong for mark, (_, wrong) in MARKS.items() if event.facts.get(mark) is False)
    if event.what == "spoil_piece":
        return (event_words.read(event.what, event.facts).words({}),)
    return ()
