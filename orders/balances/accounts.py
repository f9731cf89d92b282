"""A family's account: its invoices, credit notes and payments, row by row, and as a PDF."""

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

from django.utils.translation import gettext as _

from studio.web import paper

if TYPE_CHECKING:
    from studio.families.models import Family


@dataclass(frozen=True, slots=True)
class AccountRow:
    """One paper or payment on an account; `amount_minor` increases what the family owes."""

    on: date
    description: str
    amount_minor: int
    balance_minor: int
    number: str = ""
    """Of an invoice or credit note, whose PDF can be opened."""

    @property
    def off_minor(self) -> int:
        """The amount with the opposite sign, for the column of payments and credits."""
        return -self.amount_minor


@dataclass(frozen=True, slots=True)
class Account:
    """A family's account, oldest row first, with its running balance in minor units."""

    family: "Family"
    rows: list[AccountRow]

    @property
    def balance_minor(self) -> int:
        return self.rows[-1].balance_minor if self.rows else 0

    @property
    def shown_minor(self) -> int:
        """The balance without its sign, in minor units."""
        return abs(self.balance_minor)


def account_of(family: "Family") -> Account:
    """List the invoices, credit notes and payments of all jobs of a family, oldest first. Two
    queries.
    """
    unit = family.unit
    papers = unit.invoices.filter(order__job__family=family).defer("content")
    # Payments by vouchers taxed when sold are not part of the invoices.
    money = unit.payments.filter(order__job__family=family, taxed_before=False)
    found = [
        (
            paper.issued_on,
            0,
            f"{_(paper.get_kind_display())} {paper.number}",
            paper.total_minor,
            paper.number,
        )
        for paper in papers.order_by("issued_on", "pk")
    ]
    found += [
        (row.received_on, 1, _payment_description(row), -row.amount_minor, "")
        for row in money.select_related("order__job").order_by("received_on", "pk")
    ]
    rows, balance_minor = [], 0
    for on, _order, description, amount_minor, number in sorted(found, key=lambda row: row[:2]):
        balance_minor += amount_minor
        rows.append(AccountRow(on, description, amount_minor, balance_minor, number))
    return Account(family, rows)


def _payment_description(row: Any) -> str:
    words = _("Paid, %(how)s, job %(reference)s")
    if row.reverses_id:
        words = _("Reversed, %(how)s, job %(reference)s")
    elif row.amount_minor < 0:
        words = _("Paid back, %(how)s, job %(reference)s")
    facts = {"how": _(row.get_method_display()), "reference": row.order.job.display_reference}
    return words % facts


def account_pdf(account: Any, unit: Any, today: date) -> bytes:
    """Return the account as a PDF."""
    name = _("Statement for %(name)s") % {"name": account.family.contact_name}
    context = {"paper_name": name, "account": account, "unit": unit, "today": today}
    return paper.pdf("paper/account.html", context)
