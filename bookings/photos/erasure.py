from typing import TYPE_CHECKING

from django.db import models

from studio.families.models import Family

if TYPE_CHECKING:
    from bookings.photos.models import Photo  # noqa: F401
    from studio.accounts.models import Unit
from bookings.consent.permissions import _withdrew


def families_to_erase(unit: "Unit") -> list[tuple["Family", int]]:
    """Families without consent to keep photographs that still have some, and how many. Two queries.

    Only a family that withdrew its consent can have any: those are few, the photographs many.
    """
    from bookings.photos.models import Photo  # noqa: PLC0415 - models import their query sets

    left = Photo.objects.filter(job__family=models.OuterRef("pk")).to_erase()
    found = list(_withdrew(unit, "keep").filter(models.Exists(left)))
    if not found:
        return []
    theirs = unit.photos.filter(job__family__in=found).order_by()
    counts = dict(theirs.values_list("job__family").annotate(models.Count("pk")))
    # Put in order here: asked for it, SQLite would walk through all families by their name.
    return [(family, counts[family.pk]) for family in sorted(found, key=lambda f: f.name.lower())]
