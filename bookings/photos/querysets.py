from typing import TYPE_CHECKING, Self

from django.db import models

if TYPE_CHECKING:
    from bookings.consent.models import Consent  # noqa: F401
    from bookings.photos.models import Photo  # noqa: F401


class PhotoQuerySet(models.QuerySet["Photo"]):
    def showable(self) -> Self:
        """Photographs whose family still consents to their being kept."""
        return self.filter(_family_keeps())

    def with_job(self) -> Self:
        return self.select_related("job", "piece__child")

    def to_erase(self) -> Self:
        """Photographs whose family has taken its consent back."""
        return self.exclude(_family_keeps())


def _family_keeps() -> models.Exists:
    """Of a photograph: whether its family's yes to keeping it stands."""
    from bookings.consent.models import Consent  # noqa: PLC0415 - models import their query sets

    standing = Consent.objects.standing().filter(purpose="keep")
    return models.Exists(standing.filter(family=models.OuterRef("job__family")))
