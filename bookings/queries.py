"""Reads of enquiries, the diary, impressions, consent and photographs."""

from datetime import datetime
from typing import TYPE_CHECKING, Self

from django.db import models

if TYPE_CHECKING:
    from bookings.models import Consent, Enquiry, Impression, Photo, Sitting  # noqa: F401


class EnquiryQuerySet(models.QuerySet["Enquiry"]):
    def waiting(self) -> Self:
        return self.filter(answer="").order_by("received_at", "pk")


class SittingQuerySet(models.QuerySet["Sitting"]):
    def planned(self) -> Self:
        return self.filter(state="planned")

    def between(self, start: datetime, end: datetime) -> Self:
        """Sittings that begin in [start, end)."""
        return self.filter(starts_at__gte=start, starts_at__lt=end)

    def overlapping(self, start: datetime, end: datetime) -> Self:
        """Planned sittings that share a moment with [start, end)."""
        return self.planned().filter(starts_at__lt=end, ends_at__gt=start)

    def soonest_first(self) -> Self:
        return self.order_by("starts_at", "pk")

    def with_people(self) -> Self:
        """Loads job, family, impressions, pieces and children: three queries for any number."""
        return self.select_related("job__family").prefetch_related("impressions__piece__child")


class ImpressionQuerySet(models.QuerySet["Impression"]):
    def live(self) -> Self:
        return self.filter(live=True)

    def taken(self) -> Self:
        return self.filter(live=True, outcome="taken")


class ConsentQuerySet(models.QuerySet["Consent"]):
    def standing(self) -> Self:
        return self.filter(withdrawn_at=None)


class PhotoQuerySet(models.QuerySet["Photo"]):
    def showable(self) -> Self:
        """Photographs whose family still consents to their being kept."""
        return self.filter(
            job__family__consents__purpose="keep", job__family__consents__withdrawn_at=None
        ).distinct()
