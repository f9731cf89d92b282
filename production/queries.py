"""Reads of pours, casts, the rack and weighings."""

from typing import TYPE_CHECKING, Self

from django.db import models

if TYPE_CHECKING:
    from production.models import Cast, Pour, Weighing  # noqa: F401


class PourQuerySet(models.QuerySet["Pour"]):
    def newest_first(self) -> Self:
        return self.order_by("-poured_at", "-pk")


class CastQuerySet(models.QuerySet["Cast"]):
    def whole(self) -> Self:
        """Casts that are not spoiled."""
        return self.filter(spoiled_at=None)

    def in_the_mould(self) -> Self:
        return self.whole().filter(demoulded_at=None)

    def damp(self) -> Self:
        return self.whole().filter(demoulded_at__isnull=False, dry_at=None)

    def on_the_rack(self) -> Self:
        return self.whole().filter(rack_place__isnull=False).order_by("rack_place")


class WeighingQuerySet(models.QuerySet["Weighing"]):
    def oldest_first(self) -> Self:
        return self.order_by("at", "pk")
