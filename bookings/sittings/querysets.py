from datetime import datetime
from typing import TYPE_CHECKING, Self

from django.db import models

from studio.stages import OPEN

if TYPE_CHECKING:
    from bookings.sittings.models import ClayPrint, Sitting  # noqa: F401


class SittingQuerySet(models.QuerySet["Sitting"]):
    def planned(self) -> Self:
        """Sittings still to be held, without those of closed jobs."""
        return self.filter(state="planned", job__stage__in=OPEN)

    def in_diary(self) -> Self:
        """Sittings that the diary shows: planned or done, in order, loaded `with_people`."""
        shown = models.Q(state="done") | models.Q(state="planned", job__stage__in=OPEN)
        return self.filter(shown).soonest_first().with_people()

    def between(self, start: datetime, end: datetime) -> Self:
        """Sittings that begin in [start, end)."""
        return self.filter(starts_at__gte=start, starts_at__lt=end)

    def overlapping(self, start: datetime, end: datetime) -> Self:
        """Planned sittings that overlap [start, end)."""
        return self.planned().filter(starts_at__lt=end, ends_at__gt=start)

    def soonest_first(self) -> Self:
        return self.order_by("starts_at", "pk")

    def with_people(self) -> Self:
        """Load job, family, prints, pieces and children: four queries for any number of sittings."""
        return self.select_related("job__family").prefetch_related("prints__piece__child")

    def with_pieces(self) -> Self:
        """Load all pieces of the jobs, left off or not, because pieces are numbered among them. One query."""
        return self.prefetch_related("job__pieces")


class ClayPrintQuerySet(models.QuerySet["ClayPrint"]):
    def on_the_job(self) -> Self:
        """Prints of pieces that are still part of their job."""
        return self.filter(piece__left_off_at=None)

    def taken(self) -> Self:
        """Whole prints, whether poured since or not."""
        return self.on_the_job().filter(live=True, outcome="taken")

    def with_child(self) -> Self:
        return self.select_related("piece__child")
