"""The VAT rates that a unit has recorded: the one reader of them for invoices, receipts, vouchers and royalty."""

from datetime import date
from decimal import Decimal

from orders.prices import vat
from studio import money, units
from studio.accounts.models import Unit
from studio.stages import ActionRefused


class VatRates:
    """A unit's registration for VAT and its rates, read once. One query, none if it never registered."""

    def __init__(self, unit: Unit) -> None:
        self._registration = vat.Registration(unit.vat_registered_on, unit.vat_left_on)
        rows = unit.vat_rates.all() if unit.vat_registered_on else ()
        self._rates = [vat.Rate(row.valid_from, row.percent) for row in rows]
        self._tax_name = unit.tax_name

    def percent_on(self, day: date) -> Decimal | None:
        """Return the rate on a day, None if not registered. Raises ActionRefused without a rate."""
        try:
            return vat.percent_on(day, self._registration, self._rates)
        except vat.NoRate:
            raise ActionRefused(
                f"No rate of {self._tax_name} is written down for {units.full_day(day)}. "
                "Add it under Money, Prices."
            ) from None

    def vat_inside(self, gross_minor: int, day: date) -> int:
        """Return the VAT in a gross amount of a day, in minor units; 0 if not registered.

        Raises ActionRefused without a rate.
        """
        percent = self.percent_on(day)
        return 0 if percent is None else money.vat_inside(gross_minor, percent)
