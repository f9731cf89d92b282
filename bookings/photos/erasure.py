"""Families whose photographs are to be erased because consent to keep them is withdrawn."""

from django.db import models

from bookings.consent.permissions import KEEP, families_that_withdrew
from bookings.photos.models import Photo
from studio.accounts.models import Unit
from studio.families.models import Family


def families_to_erase(unit: Unit) -> list[tuple[Family, int]]:
    """List families whose photographs must be erased, each with their number. Two queries.

    Only a family that withdrew its consent can have any: those are few, the photographs many.
    """
    left = Photo.objects.filter(job__family=models.OuterRef("pk")).to_erase()
    found = list(families_that_withdrew(unit, KEEP).filter(models.Exists(left)))
    if not found:
        return []
    theirs = unit.photos.filter(job__family__in=found).order_by()
    counts = dict(theirs.values_list("job__family").annotate(models.Count("pk")))
    # Sorted here: with an ORDER BY, SQLite would walk through all families by their name.
    return [(family, counts[family.pk]) for family in sorted(found, key=lambda f: f.name.lower())]
