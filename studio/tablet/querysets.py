from typing import TYPE_CHECKING, Self
from uuid import UUID

from django.db import models

if TYPE_CHECKING:
    from studio.tablet.models import TabletEntry  # noqa: F401


class TabletEntryQuerySet(models.QuerySet["TabletEntry"]):
    def unsettled(self) -> Self:
        """Refused, or said otherwise by somebody else, and nobody has chosen yet; oldest first."""
        return self.filter(state__in=("refused", "conflict")).order_by("pk")

    def about(self, device: UUID, subject: str) -> Self:
        """What one tablet said about one row."""
        return self.filter(device=device, subject=subject)
