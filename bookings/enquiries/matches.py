"""Families that an enquiry may already be."""

from typing import TYPE_CHECKING

from django.db import models

if TYPE_CHECKING:
    from bookings.enquiries.models import Enquiry
    from studio.families.querysets import FamilyQuerySet


def families_like(enquiry: "Enquiry") -> "FamilyQuerySet":
    """Select families with the enquiry's phone, e-mail address or postcode, or its surname in the name."""
    same = models.Q(name__icontains=(enquiry.name.split() or [""])[-1])
    for name in ("phone", "email", "postcode"):
        if value := getattr(enquiry, name):
            same |= models.Q(**{f"{name}__iexact": value})
    return enquiry.unit.families.filter(same).by_name()
