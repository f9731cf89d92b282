"""Reads of what every app shares, as query sets that read aloud after the model."""

from datetime import date
from typing import TYPE_CHECKING, Self

from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower

from studio.stages import CLOSED, OPEN, Stage

if TYPE_CHECKING:
    from studio.models import Child, Family, Job, JobEvent, Piece  # noqa: F401


class FamilyQuerySet(models.QuerySet["Family"]):
    def called(self, words: str) -> Self:
        """Families whose name, contact, child, phone, e-mail or postcode holds every word."""
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
