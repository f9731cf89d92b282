from typing import TYPE_CHECKING, Self

from django.db import models

if TYPE_CHECKING:
    from bookings.enquiries.models import Enquiry  # noqa: F401


class EnquiryQuerySet(models.QuerySet["Enquiry"]):
    def waiting(self) -> Self:
        return self.filter(answer="").order_by("received_at", "pk")

    def recently_answered(self) -> Self:
        return self.exclude(answer="").select_related("family").order_by("-answered_at")[:10]
