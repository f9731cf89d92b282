"""Reads of what every app shares, as query sets that read aloud after the model."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING, Self
from uuid import UUID

from django.db import models
from django.db.models import Prefetch, Q
from django.db.models.functions import Lower
from django.utils import timezone

from studio.stage_strip import Step, stage_strip
from studio.stages import CLOSED, OPEN, Stage

if TYPE_CHECKING:
    from studio.models import Child, Family, Job, JobEvent, Piece, TabletEntry  # noqa: F401
    from studio.panels import TodayItem


class FamilyQuerySet(models.QuerySet["Family"]):
    def called(self, words: str) -> Self:
        """Families whose name, contact, child, phone, e-mail or postcode holds every word."""
        if not words.split():
            return self  # without the DISTINCT, an index gives their order
        found = self
        for word in words.split():
            found = found.filter(
                Q(name__icontains=word)
                | Q(contact_name__icontains=word)
                | Q(children__first_name__icontains=word)
                | Q(phone__icontains=word)
                | Q(email__icontains=word)
                | Q(postcode__icontains=word)
            )
        return found.distinct()

    def by_name(self) -> Self:
        return self.order_by(Lower("name"), "pk")


class ChildQuerySet(models.QuerySet["Child"]):
    def oldest_first(self) -> Self:
        return self.order_by("born_on", "pk")


class JobQuerySet(models.QuerySet["Job"]):
    def at(self, *stages: Stage) -> Self:
        return self.filter(stage__in=stages)

    def in_hand(self) -> Self:
        return self.filter(stage__in=OPEN)

    def closed(self) -> Self:
        return self.filter(stage__in=CLOSED)

    def due_by(self, day: date) -> Self:
        return self.filter(promised_on__lte=day)

    def late_on(self, day: date) -> Self:
        """Open jobs whose promise lies before `day`."""
        return self.in_hand().filter(promised_on__lt=day)

    def soonest_first(self) -> Self:
        return self.order_by(models.F("promised_on").asc(nulls_last=True), "pk")

    def with_people(self) -> Self:
        """Loads the family and the pieces with their children: two queries for any number of jobs."""
        from studio.models import Piece  # noqa: PLC0415 - models import this module

        pieces = Piece.objects.select_related("child")
        return self.select_related("family").prefetch_related(Prefetch("pieces", pieces))


class PieceQuerySet(models.QuerySet["Piece"]):
    def on_the_job(self) -> Self:
        """Pieces that are still part of their order."""
        return self.filter(left_off_at=None)


class EventQuerySet(models.QuerySet["JobEvent"]):
    def moves(self) -> Self:
        return self.filter(what="move")

    def oldest_first(self) -> Self:
        return self.order_by("at", "pk")

    def newest_first(self) -> Self:
        return self.order_by("-at", "-pk")


class TabletEntryQuerySet(models.QuerySet["TabletEntry"]):
    def unsettled(self) -> Self:
        """Refused, or said otherwise by somebody else, and nobody has chosen yet; oldest first."""
        return self.filter(state__in=("refused", "conflict")).order_by("pk")

    def about(self, device: UUID, subject: str) -> Self:
        """What one tablet said about one row."""
        return self.filter(device=device, subject=subject)


@dataclass(frozen=True, slots=True)
class Day:
    """What Today shows: what is late, what is for now and soon, whom to answer, what is owed."""

    late: tuple["TodayItem", ...]
    sittings: tuple["TodayItem", ...]
    bench: tuple["TodayItem", ...]
    families: tuple["TodayItem", ...]
    soon: tuple["TodayItem", ...]
    owed: tuple["TodayItem", ...]
    owed_minor: int

    @property
    def for_now(self) -> int:
        """How many things are to be touched today and are not late."""
        return len(self.sittings) + len(self.bench)

    @property
    def is_empty(self) -> bool:
        return not (
            self.late or self.sittings or self.bench or self.families or self.soon or self.owed
        )


def todays(items: Iterable["TodayItem"], now: datetime) -> Day:
    """Sort what the apps registered: the late first and oldest first, the rest by time of day."""
    today = timezone.localdate(now)
    ordered = sorted(items, key=lambda item: (*_due(item, now, today), item.title))
    timely = [item for item in ordered if not item.why_late]

    def of(group: str) -> tuple["TodayItem", ...]:
        return tuple(i for i in timely if i.group == group and not _is_soon(i, today))

    money = tuple(item for item in ordered if item.group == "owed")
    return Day(
        late=tuple(item for item in ordered if item.why_late and item.group != "owed"),
        sittings=of("sittings"),
        bench=of("bench"),
        families=of("families"),
        soon=tuple(i for i in timely if i.group != "owed" and _is_soon(i, today)),
        owed=money,
        owed_minor=sum(item.amount_minor or 0 for item in money),
    )


def _due(item: "TodayItem", now: datetime, today: date) -> tuple[date, datetime]:
    if item.due_on is None and item.at:
        return timezone.localdate(item.at), item.at
    return item.due_on or today, item.at or now


def _is_soon(item: "TodayItem", today: date) -> bool:
    return item.due_on is not None and item.due_on > today


def is_late(job: "Job", today: date) -> bool:
    return not job.is_closed and job.promised_on is not None and job.promised_on < today


@dataclass(frozen=True, slots=True)
class Told:
    """An event as the owner reads it; by the family itself where `by` is empty."""

    what: str
    to_stage: str
    at: datetime
    words: str
    details: str
    by: str


def history_of(job: "Job") -> tuple[Told, ...]:
    """A job's events, the newest first. Two queries."""
    names = {piece.pk: str(piece) for piece in job.pieces.select_related("child")}
    events = job.events.select_related("by").newest_first()
    return tuple(
        Told(e.what, e.to_stage, e.at, e.heading, e.details(names), str(e.by) if e.by else "")
        for e in events
    )


def steps_of(job: "Job", events: Iterable[Told]) -> tuple[Step, ...]:
    """The stages on a job's way. A called-off job shows how far it came.

    `events`: its own, the newest first.
    """
    reached: dict[str, datetime] = {}
    for event in events:
        if event.what in ("move", "open_job"):
            reached.setdefault(event.to_stage, event.at)
    way = {str(stage): str(stage.label) for stage in Stage if stage != Stage.CALLED_OFF}
    strip = stage_strip(job.stage, way, reached)
    if job.stage == Stage.CALLED_OFF:
        return (*strip, Step("Called off", "now", reached.get(job.stage)))
    return strip
