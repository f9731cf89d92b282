from typing import TYPE_CHECKING

from django.db import models

if TYPE_CHECKING:
    from bookings.enquiries.models import Enquiry
    from studio.families.querysets import FamilyQuerySet


def families_like(enquiry: "Enquiry") -> "FamilyQuerySet":
    """Families that may be the one who asks: the same phone, e-mail or postcode, or the surname."""
    same = models.Q(name__icontains=(enquiry.name.split() or [""])[-1])
    for name in ("phone", "email", "postcode"):
        if value := getattr(enquiry, name):
            same |= models.Q(**{f"{name}__iexact": value})
    return enquiry.unit.families.filter(same).by_name()
