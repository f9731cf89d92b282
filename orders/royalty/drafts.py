"""The draft of the next royalty return, from papers that no return has counted."""

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from dateutil.relativedelta import relativedelta

from orders.prices import vat
from orders.royalty import franchise_fee
from orders.royalty.models import RoyaltyLine
from orders.vouchers.balances import parts_of
from studio import money

if TYPE_CHECKING:
    from orders.royalty.models import RoyaltyTerms
    from studio.accounts.models import Unit


@dataclass(frozen=True, slots=True)
class Draft:
    """A return that is not sent yet; `late` are papers of earlier periods that no return counted."""

    unit: "Unit"
    first_on: date
    last_on: date
    is_over: bool
    terms: list["RoyaltyTerms"]
    takings: list[franchise_fee.Taking]
    due: franchise_fee.Due

    @property
    def late(self) -> list[franchise_fee.Taking]:
        """Papers of earlier periods that no return has counted."""
        return [taking for taking in self.takings if taking.on < self.first_on]

    def content(self) -> dict[str, Any]:
        """Return the content of the return: numbers of papers and amounts, no names."""
        due = self.due
        return {
            "studio": self.unit.name,
            "trader": self.unit.trader_name,
            "currency": self.unit.currency,
            "first_on": self.first_on,
            "last_on": self.last_on,
            "lines": [_line(taking, self.first_on) for taking in self.takings],
            "shares": [_share(share) for share in due.shares],
            "gross_minor": due.gross_minor,
            "vat_inside_minor": due.vat_inside_minor,
            "net_minor": due.net_minor,
            "earned_minor": due.earned_minor,
            "is_minimum": due.is_minimum,
            "royalty_minor": due.royalty_minor,
            "levy_minor": due.levy_minor,
            "vat_minor": due.vat_minor,
            "payable_minor": due.payable_minor,
        }


def draft_return(unit: "Unit", today: date) -> Draft | None:
    """Draft the return for the period after the last one; None without terms. Eight queries."""
    agreed = list(unit.royalty_terms.order_by("valid_from"))
    if not agreed:
        return None
    sent = unit.royalty_returns.order_by("-last_on").first()
    first_on = sent.last_on + timedelta(days=1) if sent else agreed[0].valid_from.replace(day=1)
    begun = [each for each in agreed if each.valid_from <= first_on] or agreed[:1]
    last_on = _ends_on(first_on, begun[-1].every_months)
    terms = [_as_terms(each) for each in agreed]
    takings = _takings(unit, begun[-1], since=agreed[0].valid_from, until=last_on)
    return Draft(
        unit=unit,
        first_on=first_on,
        last_on=last_on,
        is_over=today > last_on,
        terms=agreed,
        takings=takings,
        due=franchise_fee.due(takings, terms, ends_on=last_on),
    )


def _line(taking: franchise_fee.Taking, first_on: date) -> dict[str, Any]:
    return {
        "source": taking.source,
        "on": taking.on,
        "gross_minor": taking.gross_minor,
        "vat_minor": taking.vat_minor,
        "net_minor": taking.net_minor,
        "is_late": taking.on < first_on,
    }


def _share(share: franchise_fee.Share) -> dict[str, Any]:
    return {
        "from_on": share.terms.valid_from,
        "royalty_percent": _percent(share.terms.royalty_percent),
        "levy_percent": _percent(share.terms.levy_percent),
        "net_minor": share.net_minor,
        "royalty_minor": share.royalty_minor,
        "levy_minor": share.levy_minor,
    }


def _percent(percent: Decimal) -> str:
    """Format a percentage as "8" or "7.5"."""
    return f"{percent.normalize():f}"


def _ends_on(first_on: date, months: int) -> date:
    return first_on.replace(day=1) + relativedelta(months=months) - timedelta(days=1)


def _as_terms(row: "RoyaltyTerms") -> franchise_fee.Terms:
    return franchise_fee.Terms(
        row.valid_from, row.royalty_percent, row.levy_percent, row.minimum_minor, row.vat_percent
    )


def _takings(
    unit: "Unit", terms: "RoyaltyTerms", *, since: date, until: date
) -> list[franchise_fee.Taking]:
    """List papers of the period that no return has counted, oldest first."""
    counted = set(RoyaltyLine.objects.filter(unit=unit).values_list("source", flat=True))
    found = _invoiced(unit) if terms.basis == "invoiced" else _received(unit)
    if terms.voucher_at == "sale":
        found += _sold_vouchers(unit)
        if terms.basis == "invoiced":
            found += _invoiced_again(unit)
    else:
        found += _used_vouchers(unit, all_of_them=terms.basis == "received")
    fresh = [
        taking for taking in found if taking.source not in counted and since <= taking.on <= until
    ]
    return sorted(fresh, key=lambda taking: (taking.on, taking.source))


def _invoiced(unit: "Unit") -> list[franchise_fee.Taking]:
    rows = unit.invoices.values_list("number", "issued_on", "total_minor", "vat_minor")
    return [franchise_fee.Taking(*row) for row in rows]


def _received(unit: "Unit") -> list[franchise_fee.Taking]:
    """List payments and refunds except by voucher, with VAT at the rate of the day."""
    rates = _Rates(unit)
    rows = unit.payments.filter(voucher=None).values_list("pk", "received_on", "amount_minor")
    return [
        franchise_fee.Taking(f"payment {pk}", on, minor, rates.inside(on, minor))
        for pk, on, minor in rows
    ]


def _sold_vouchers(unit: "Unit") -> list[franchise_fee.Taking]:
    rates, found = _Rates(unit), []
    for voucher in unit.vouchers.all():
        minor = voucher.price_minor
        # A voucher taxed when sold stores its tax; for any other the rate of the day applies.
        taxed = voucher.taxed_when_sold
        vat_minor = voucher.vat_minor if taxed else rates.inside(voucher.sold_on, minor)
        source = f"voucher {voucher.display_code}"
        found.append(franchise_fee.Taking(source, voucher.sold_on, minor, vat_minor))
        if voucher.cancelled_on:
            back = franchise_fee.Taking(f"{source} back", voucher.cancelled_on, -minor, -vat_minor)
            found.append(back)
    return found


def _invoiced_again(unit: "Unit") -> list[franchise_fee.Taking]:
    """Subtract from invoices what vouchers paid that were counted when sold.

    Vouchers taxed when sold are not part of invoices and need no subtraction.
    """
    rates = _Rates(unit)
    rows = unit.payments.exclude(voucher=None).filter(taxed_before=False)
    return [
        franchise_fee.Taking(f"payment {pk}", on, -minor, -rates.inside(on, minor))
        for pk, on, minor in rows.values_list("pk", "received_on", "amount_minor")
    ]


def _used_vouchers(unit: "Unit", *, all_of_them: bool) -> list[franchise_fee.Taking]:
    """List vouchers at their price as they are used: all, or only those that no invoice contains."""
    rates, parts = _Rates(unit), parts_of(unit.vouchers.all())
    rows = unit.payments.exclude(voucher=None)
    if not all_of_them:
        rows = rows.filter(taxed_before=True)
    found = []
    for pk, on, taxed in rows.values_list("pk", "received_on", "taxed_before"):
        part = parts[pk]
        vat_minor = part.vat_minor if taxed else rates.inside(on, part.price_minor)
        found.append(franchise_fee.Taking(f"payment {pk}", on, part.price_minor, vat_minor))
    return found


class _Rates:
    """The unit's VAT rates by day, read once."""

    def __init__(self, unit: "Unit") -> None:
        self.registration = vat.Registration(unit.vat_registered_on, unit.vat_left_on)
        registered = unit.vat_registered_on is not None
        self.rates = list(unit.vat_rates.order_by("-valid_from")) if registered else []

    def inside(self, on: date, gross_minor: int) -> int:
        """Return the VAT included in a gross amount on a day, in minor units; 0 if not registered."""
        if not self.registration.holds_on(on):
            return 0
        percent = next((rate.percent for rate in self.rates if rate.valid_from <= on), None)
        return money.vat_inside(gross_minor, percent) if percent is not None else 0
