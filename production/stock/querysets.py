"""Querysets of the stores."""

from typing import TYPE_CHECKING, Any, Self, cast

from django.db import models
from django.db.models import Sum
from django.db.models.functions import Coalesce

if TYPE_CHECKING:
    from production.stock.models import Lot, Material, Purchase, StockMove  # noqa: F401


class MaterialQuerySet(models.QuerySet["Material"]):
    def kept(self) -> Self:
        """Materials that are not retired."""
        return self.filter(retired_at=None)

    def used_at(self, *moments: str) -> Self:
        """Materials used up at any of these moments (`Material.UsedAt`)."""
        return self.kept().filter(used_at__in=moments)

    def with_stock(self) -> Self:
        """Annotate `stock` (base units) and `tied_up_minor` (its value in minor units)."""
        return cast(Any, self).annotate(  # type: ignore[no-any-return]
            stock=Coalesce(Sum("lots__left"), 0), tied_up_minor=Coalesce(Sum("lots__left_minor"), 0)
        )


class LotQuerySet(models.QuerySet["Lot"]):
    def with_some_left(self) -> Self:
        return self.filter(left__gt=0)

    def oldest_first(self) -> Self:
        return self.order_by("received_on", "pk")


class PurchaseQuerySet(models.QuerySet["Purchase"]):
    def on_their_way(self) -> Self:
        """Purchases that are not closed."""
        return self.filter(closed_at=None)


class StockMoveQuerySet(models.QuerySet["StockMove"]):
    def newest_first(self) -> Self:
        return self.order_by("-at", "-pk")

    def used_or_returned(self) -> Self:
        """Movements of use and return."""
        return self.filter(what__in=("used", "returned"))

    def with_names(self) -> Self:
        """Load material, job, pour and person: one query for any number."""
        return self.select_related("lot__material", "job", "pour", "by")
