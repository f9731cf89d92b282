from typing import TYPE_CHECKING, Self
from uuid import UUID

from django.db import models

if TYPE_CHECKING:
    from studio.tablet.models import TabletEntry  # noqa: F401


class TabletEntryQuerySet(models.QuerySet["TabletEntry"]):
    def unsettled(self) -> Self:
        """Entries that were refused or are in conflict and wait for a person's choice, oldest first."""
        return self.filter(state__in=("refused", "conflict")).order_by("pk")

    def about(self, device: UUID, subject: str) -> Self:
        """Entries of one tablet about one row."""
        return self.filter(device=device, subject=subject)
