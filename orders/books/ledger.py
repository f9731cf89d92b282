"""The day book of a period and its reconciliation to zero; pure.

For each account and in total: opening + invoices - credit notes - payments + refunds + vouchers
used - voucher discounts = closing. Amounts are minor units; a balance above zero is owed to the
studio, below zero to a family or to the holder of a voucher.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

INVOICE, CREDIT, PAYMENT, BACK = "invoice", "credit note", "payment", "paid back"

# Using a voucher moves money from its account to an order's. A price below its value is a discount.
VOUCHER_USED, VOUCHER_GIVEN = "voucher used", "voucher given"

# Taxed when it was sold, so no invoice contains it.
TAXED_VOUCHER_USED = "taxed voucher used"


@dataclass(frozen=True, slots=True)
class Entry:
    """One row of the day book; `amount_minor` increases what the account owes the studio."""

    on: date
    kind: str
    number: str
    account: str
    """The family's account: a job's reference, so that a family may be forgotten."""
    amount_minor: int
    vat_minor: int = 0
    note: str = ""


@dataclass(frozen=True, slots=True)
class Money:
    """A payment as entered, below zero for a refund or a reversal; `voucher` is its displayed code."""

    on: date
    number: str
    account: str
    amount_minor: int
    note: str = ""
    voucher: str = ""
    taxed_before: bool = False


@dataclass(frozen=True, slots=True)
class Card:
    """A voucher sold, or (`sold` False) taken back at its price."""

    on: date
    code: str
    value_minor: int
    price_minor: int
    vat_minor: int = 0
    note: str = ""
    sold: bool = True


def of_money(money: Money) -> list[Entry]:
    """Return the entries of a payment.

    A payment by voucher moves the amount from the voucher's account to the order's. One by a
    voucher that was taxed when it was sold reduces the invoice instead of paying it.
    """
    used = Entry(
        money.on,
        TAXED_VOUCHER_USED if money.taxed_before else VOUCHER_USED,
        money.number,
        f"voucher {money.voucher}",
        money.amount_minor,
        note=money.account,
    )
    if money.taxed_before:
        return [used]
    kind = PAYMENT if money.amount_minor > 0 else BACK
    row = Entry(money.on, kind, money.number, money.account, -money.amount_minor, note=money.note)
    return [row, used] if money.voucher else [row]


def of_card(card: Card) -> list[Entry]:
    """Return the entries of a voucher sold or taken back.

    Its value is owed to its holder; the difference to its price is a discount. `vat_minor` is the
    tax of a voucher that is taxed when it is sold.
    """
    account, sign = f"voucher {card.code}", 1 if card.sold else -1
    given_minor = card.value_minor - card.price_minor
    row = Entry(
        card.on,
        PAYMENT if card.sold else BACK,
        account,
        account,
        -sign * card.price_minor,
        sign * card.vat_minor,
        card.note,
    )
    given = Entry(card.on, VOUCHER_GIVEN, account, account, -sign * given_minor)
    return [row, given] if given_minor else [row]


@dataclass(frozen=True, slots=True)
class Sums:
    """The totals of a period. `closing_minor` is summed from the accounts, as a check of the
    others.
    """

    opening_minor: int
    invoiced_minor: int
    credited_minor: int
    paid_minor: int
    back_minor: int
    vouchers_minor: int
    """Used less given away: the other half of payments by voucher; of those taxed when they were sold
    what was worked for.
    """
    closing_minor: int

    @property
    def off_by_minor(self) -> int:
        """The difference of the reconciliation in minor units: zero, or the books are wrong."""
        reckoned = (
            self.opening_minor
            + self.invoiced_minor
            - self.credited_minor
            - self.paid_minor
            + self.back_minor
            + self.vouchers_minor
        )
        return reckoned - self.closing_minor


def reconcile(entries: Iterable[Entry], *, first: date, last: date) -> Sums:
    """Return the totals of the days `first` to `last`, both included, from all entries ever made."""
    opening: dict[str, int] = defaultdict(int)
    closing: dict[str, int] = defaultdict(int)
    sums: dict[str, int] = defaultdict(int)
    for entry in entries:
        if entry.on > last:
            continue
        closing[entry.account] += entry.amount_minor
        if entry.on < first:
            opening[entry.account] += entry.amount_minor
        else:
            sums[entry.kind] += entry.amount_minor
    return Sums(
        opening_minor=sum(opening.values()),
        invoiced_minor=sums[INVOICE],
        credited_minor=-sums[CREDIT],
        paid_minor=-sums[PAYMENT],
        back_minor=sums[BACK],
        vouchers_minor=sums[VOUCHER_USED] + sums[TAXED_VOUCHER_USED] + sums[VOUCHER_GIVEN],
        closing_minor=sum(closing.values()),
    )


def balances(entries: Iterable[Entry], on: date) -> dict[str, int]:
    """Return the balance of each account at the end of a day, without settled accounts."""
    sums: dict[str, int] = defaultdict(int)
    for entry in entries:
        if entry.on <= on:
            sums[entry.account] += entry.amount_minor
    return {account: minor for account, minor in sums.items() if minor}


def tax_year(day: date) -> tuple[date, date]:
    """Return the first and last day of the UK personal tax year of `day`: 6 April to 5 April [std]."""
    year = day.year if (day.month, day.day) >= (4, 6) else day.year - 1
    return date(year, 4, 6), date(year + 1, 4, 5)
