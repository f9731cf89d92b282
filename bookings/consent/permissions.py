from collections.abc import Sequence
from typing import TYPE_CHECKING

from django.db import models

from studio.families.models import Family
from studio.jobs.models import Job

if TYPE_CHECKING:
    from bookings.consent.models import Consent  # noqa: F401
    from studio.accounts.models import Unit
    from studio.families.querysets import FamilyQuerySet
    from studio.jobs.querysets import JobQuerySet


def keeps_photos(family: "Family") -> bool:
    """Whether the family's yes to keeping photographs stands."""
    return family.consents.standing().filter(purpose="keep").exists()


def may_make(family: "Family") -> bool:
    """Whether the family's yes to prints and casts stands."""
    return family.consents.standing().filter(purpose="make").exists()


def stopped(jobs: "Sequence[Job] | JobQuerySet") -> list["Family"]:
    """The families of these jobs that said yes to the casts and took it back. One query.

    One that was never asked is not among them.
    """
    from bookings.consent.models import Consent  # noqa: PLC0415 - models import their query sets

    words = Consent.objects.filter(family__jobs__in=jobs, purpose="make")
    stands: dict[Family, bool] = {}
    for word in words.select_related("family").order_by("family_id").distinct():
        stands[word.family] = stands.get(word.family, False) or word.withdrawn_at is None
    return [family for family, stood in stands.items() if not stood]


def family_says(family: "Family") -> tuple[bool, bool]:
    """Whether its photographs may be kept, and whether it withdrew its consent to the casts. One query."""
    said = list(family.consents.values_list("purpose", "withdrawn_at"))
    standing = {purpose for purpose, withdrawn_at in said if withdrawn_at is None}
    return "keep" in standing, "make" in {purpose for purpose, _ in said} - standing


def stopped_in_hand(unit: "Unit") -> "FamilyQuerySet":
    """The families of open jobs that withdrew their consent to the casts. One query."""
    from bookings.consent.models import Consent  # noqa: PLC0415 - models import their query sets

    stands = Consent.objects.standing().filter(purpose="make", family=models.OuterRef("pk"))
    in_hand = Job.objects.in_hand().filter(family=models.OuterRef("pk"))
    found = _withdrew(unit, "make").filter(~models.Exists(stands), models.Exists(in_hand))
    return found.order_by("pk")


def _withdrew(unit: "Unit", purpose: str) -> "FamilyQuerySet":
    """Families that ever withdrew a consent: few, and found by an index of their own."""
    from bookings.consent.models import Consent  # noqa: PLC0415 - models import their query sets

    withdrawn = Consent.objects.filter(purpose=purpose, withdrawn_at__isnull=False)
    return unit.families.filter(pk__in=withdrawn.values("family"))


def shows_photos(family: "Family") -> bool:
    """Whether finished casts may be shown: that takes a yes to keeping them too."""
    standing = family.consents.standing().filter(purpose__in=("keep", "show"))
    return standing.count() == 2  # noqa: PLR2004 - one standing yes a purpose
