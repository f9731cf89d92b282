from typing import TYPE_CHECKING, Self

from django.db import models

if TYPE_CHECKING:
    from bookings.consent.models import Consent  # noqa: F401


class ConsentQuerySet(models.QuerySet["Consent"]):
    def in_force(self) -> Self:
        return self.filter(withdrawn_at=None)
