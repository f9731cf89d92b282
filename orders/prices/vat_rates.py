"""The unit's VAT rate on a day."""

from datetime import date
from decimal import Decimal

from orders.prices import vat
from studio import units
from studio.accounts.models import Unit
from studio.stages import ActionRefused


def percent_on(unit: Unit, day: date) -> Decimal | None:
    """Return the unit's VAT rate on a day, None if not registered. Raises ActionRefused without a
    rate.
    """
    registration = vat.Registration(unit.vat_registered_on, unit.vat_left_on)
    rates = [vat.Rate(row.valid_from, row.percent) for row in unit.vat_rates.all()]
    try:
        return vat.percent_on(day, registration, rates)
    except vat.NoRate:
        raise ActionRefused(
            f"No rate of {unit.tax_name} is written down for {units.full_day(day)}. "
            "Add it under Money, Prices."
        ) from None
