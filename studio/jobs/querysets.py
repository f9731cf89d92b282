from datetime import date
from typing import TYPE_CHECKING, Self

from django.db import models

from studio.stages import CLOSED, OPEN, Stage

if TYPE_CHECKING:
    from studio.jobs.models import Job, JobEvent, Piece  # noqa: F401


class JobQuerySet(models.QuerySet["Job"]):
    def at(self, *stages: Stage) -> Self:
        return self.filter(stage__in=stages)

    def open(self) -> Self:
        return self.filter(stage__in=OPEN)

    def closed(self) -> Self:
        return self.filter(stage__in=CLOSED)

    def late_on(self, day: date) -> Self:
        """Open jobs promised for a day before `day`."""
        return self.open().filter(promised_on__lt=day)

    def soonest_first(self) -> Self:
        return self.order_by(models.F("promised_on").asc(nulls_last=True), "pk")

    def with_people(self) -> Self:
        """Load the family and the pieces with their children: three queries for any number of jobs."""
        return self.select_related("family").prefetch_related("pieces__child")


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
