from datetime import datetime
from typing import TYPE_CHECKING, Self

from django.db import models

if TYPE_CHECKING:
    from orders.family_page.models import FamilyLink  # noqa: F401


class FamilyLinkQuerySet(models.QuerySet["FamilyLink"]):
    def open_at(self, now: datetime) -> Self:
        """Filter links that are neither revoked nor expired."""
        return self.filter(revoked_at=None, expires_at__gt=now)
