"""The VAT registration threshold, by date."""

from collections.abc import Mapping
from datetime import date

from django.db import transaction

from orders.books.models import VatThreshold
from studio.accounts.actions import lock_unit
from studio.accounts.models import Unit


@transaction.atomic
def set_vat_threshold(unit: Unit, *, valid_from: date, facts: Mapping[str, int]) -> VatThreshold:
    """Store the threshold in force from a day.

    `facts` has register_minor and leave_minor in minor units, and warn_percent.
    """
    lock_unit(unit)
    threshold, _ = VatThreshold.objects.update_or_create(
        unit=unit, valid_from=valid_from, defaults=facts
    )
    return threshold
