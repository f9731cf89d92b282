from typing import TYPE_CHECKING, Self

from django.db import models

from bookings.consent.models import Consent

if TYPE_CHECKING:
    from bookings.photos.models import Photo  # noqa: F401


class PhotoQuerySet(models.QuerySet["Photo"]):
    def showable(self) -> Self:
        """Photographs whose family still consents to their being kept."""
        return self.filter(_may_be_kept())

    def with_job(self) -> Self:
        return self.select_related("job", "piece__child")

    def to_erase(self) -> Self:
        """Photographs whose family has withdrawn its consent to keeping them."""
        return self.exclude(_may_be_kept())


def _may_be_kept() -> models.Exists:
    in_force = Consent.objects.in_force().filter(purpose=Consent.Purpose.KEEP)
    return models.Exists(in_force.filter(family=models.OuterRef("job__family")))
