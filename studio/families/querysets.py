from typing import TYPE_CHECKING, Self

from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower

if TYPE_CHECKING:
    from studio.families.models import Child, Family  # noqa: F401


class FamilyQuerySet(models.QuerySet["Family"]):
    def search(self, words: str) -> Self:
        """Search families: each word occurs in the name, contact, a child, phone, e-mail or postcode."""
        if not words.split():
            return self  # without the DISTINCT, an index gives their order
        found = self
        for word in words.split():
            found = found.filter(
                Q(name__icontains=word)
                | Q(contact_name__icontains=word)
                | Q(children__first_name__icontains=word)
                | Q(phone__icontains=word)
                | Q(email__icontains=word)
                | Q(postcode__icontains=word)
            )
        return found.distinct()

    def by_name(self) -> Self:
        return self.order_by(Lower("name"), "pk")


class ChildQuerySet(models.QuerySet["Child"]):
    def oldest_first(self) -> Self:
        return self.order_by("born_on", "pk")
