"""The dated threshold of registration for tax."""

from collections.abc import Mapping
from datetime import date

from django.db import transaction

from orders.books.models import VatThreshold
from studio.accounts.actions import lock_unit
from studio.accounts.models import Unit


@transaction.atomic
def set_vat_threshold(unit: Unit, *, valid_from: date, facts: Mapping[str, int]) -> VatThreshold:
    """`facts`: register_minor, leave_minor, warn_percent; in force from a day on."""
    lock_unit(unit)
    threshold, _ = VatThreshold.objects.update_or_create(
        unit=unit, valid_from=valid_from, defaults=facts
    )
    return threshold
