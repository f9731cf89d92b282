"""The querysets of the bench's rows, named to be read after the model."""

from datetime import datetime
from typing import TYPE_CHECKING, Self

from django.db import models

from studio.stages import CLOSED

if TYPE_CHECKING:
    from production.casts.models import Cast, Plaster, Pour, RoomReading, Weighing  # noqa: F401


class PlasterQuerySet(models.QuerySet["Plaster"]):
    def in_use(self) -> Self:
        """Plasters that are not retired, the usual one first."""
        return self.filter(retired_at=None)


class RoomReadingQuerySet(models.QuerySet["RoomReading"]):
    def newest_first(self) -> Self:
        return self.order_by("-at", "-pk")

    def since(self, at: datetime) -> Self:
        return self.filter(at__gte=at)


class PourQuerySet(models.QuerySet["Pour"]):
    def newest_first(self) -> Self:
        return self.order_by("-poured_at", "-pk")


class CastQuerySet(models.QuerySet["Cast"]):
    def whole(self) -> Self:
        """Casts that are not spoiled."""
        return self.filter(spoiled_at=None)

    def on_the_job(self) -> Self:
        """Casts of pieces that are still part of an open job."""
        return self.filter(piece__left_off_at=None).exclude(piece__job__stage__in=CLOSED)

    def in_the_mould(self) -> Self:
        """Whole casts that are not demoulded."""
        return self.whole().filter(demoulded_at=None)

    def damp(self) -> Self:
        """Whole casts that are demoulded and not dry."""
        return self.whole().filter(demoulded_at__isnull=False, dry_at=None)

    def on_the_rack(self) -> Self:
        """Whole casts with a drying rack place, in the order of the places."""
        return self.whole().filter(rack_place__isnull=False).order_by("rack_place")

    def with_people(self) -> Self:
        """Load pieces, children, families, pours, weighings and prints: five queries for any number."""
        return self.select_related(
            "piece__child",
            "piece__job__family",
            "piece__job__unit",
            "piece__mould",
            "pour__plaster",
        ).prefetch_related("weighings", "piece__prints__sitting", "piece__casts")


class WeighingQuerySet(models.QuerySet["Weighing"]):
    def standing(self) -> Self:
        """Weighings that were not struck out."""
        return self.filter(struck_at=None)

    def oldest_first(self) -> Self:
        return self.order_by("at", "pk")
