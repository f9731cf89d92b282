from datetime import date
from typing import TYPE_CHECKING

from django.db import models

if TYPE_CHECKING:
    from orders.prices.models import PriceList


class PriceListQuerySet(models.QuerySet["PriceList"]):
    def in_force_on(self, day: date) -> "PriceList | None":
        """Return the newest list that begins by `day`, None before the first. One query."""
        return self.filter(valid_from__lte=day).order_by("-valid_from").first()
