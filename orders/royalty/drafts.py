"""The draft of the next royalty return, from papers that no return has counted."""

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import TYPE_CHECKING, Any, NamedTuple

from dateutil.relativedelta import relativedelta

from orders.prices.vat_rates import VatRates
from orders.royalty import franchise_fee
from orders.royalty.models import RoyaltyLine
from orders.vouchers.balances import parts_of

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
    """Draft the return for the period after the last one; None without terms. At most eight queries.

    Raises ActionRefused if VAT is due on a day for which no rate is recorded.
    """
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


class _Paper(NamedTuple):
    """A paper that may count; its VAT is `vat_minor`, or follows from the rate of the day `taxed_on`."""

    source: str
    on: date
    gross_minor: int
    vat_minor: int = 0
    taxed_on: date | None = None


def _takings(
    unit: "Unit", terms: "RoyaltyTerms", *, since: date, until: date
) -> list[franchise_fee.Taking]:
    """List papers of the period that no return has counted, oldest first."""
    counted = set(RoyaltyLine.objects.filter(unit=unit).values_list("source", flat=True))
    papers = _invoiced(unit) if terms.basis == "invoiced" else _received(unit)
    if terms.voucher_at == "sale":
        papers += _sold_vouchers(unit)
        if terms.basis == "invoiced":
            papers += _invoiced_again(unit)
    else:
        papers += _used_vouchers(unit, all_of_them=terms.basis == "received")
    fresh = [each for each in papers if each.source not in counted and since <= each.on <= until]
    rates = VatRates(unit)
    return [_taking(each, rates) for each in sorted(fresh, key=lambda each: (each.on, each.source))]


def _taking(paper: _Paper, rates: VatRates) -> franchise_fee.Taking:
    vat_minor = paper.vat_minor
    if paper.taxed_on:
        vat_minor = rates.vat_inside(paper.gross_minor, paper.taxed_on)
    return franchise_fee.Taking(paper.source, paper.on, paper.gross_minor, vat_minor)


def _invoiced(unit: "Unit") -> list[_Paper]:
    rows = unit.invoices.values_list("number", "issued_on", "total_minor", "vat_minor")
    return [_Paper(*row) for row in rows]


def _received(unit: "Unit") -> list[_Paper]:
    """List payments and refunds except by voucher, with VAT at the rate of the day."""
    rows = unit.payments.filter(voucher=None).values_list("pk", "received_on", "amount_minor")
    return [_Paper(f"payment {pk}", on, minor, taxed_on=on) for pk, on, minor in rows]


def _sold_vouchers(unit: "Unit") -> list[_Paper]:
    """List vouchers at their price when sold, and again below zero when cancelled.

    A voucher taxed when sold stores its VAT; for any other the rate of that day applies.
    """
    found = []
    for voucher in unit.vouchers.all():
        taxed_on = None if voucher.taxed_when_sold else voucher.sold_on
        sold = _Paper(
            f"voucher {voucher.display_code}",
            voucher.sold_on,
            voucher.price_minor,
            voucher.vat_minor,
            taxed_on,
        )
        found.append(sold)
        if voucher.cancelled_on:
            found.append(
                _Paper(
                    f"{sold.source} back",
                    voucher.cancelled_on,
                    -sold.gross_minor,
                    -sold.vat_minor,
                    taxed_on,
                )
            )
    return found


def _invoiced_again(unit: "Unit") -> list[_Paper]:
    """Subtract from invoices what vouchers paid that were counted when sold.

    Vouchers taxed when sold are not part of invoices and need no subtraction.
    """
    rows = unit.payments.exclude(voucher=None).filter(taxed_before=False)
    return [
        _Paper(f"payment {pk}", on, -minor, taxed_on=on)
        for pk, on, minor in rows.values_list("pk", "received_on", "amount_minor")
    ]


def _used_vouchers(unit: "Unit", *, all_of_them: bool) -> list[_Paper]:
    """List vouchers at their price as they are used: all, or only those that no invoice contains."""
    parts = parts_of(unit.vouchers.all())
    rows = unit.payments.exclude(voucher=None)
    if not all_of_them:
        rows = rows.filter(taxed_before=True)
    return [
        _Paper(
            f"payment {pk}", on, parts[pk].price_minor, parts[pk].vat_minor, None if taxed else on
        )
        for pk, on, taxed in rows.values_list("pk", "received_on", "taxed_before")
    ]
