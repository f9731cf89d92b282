"""Bank lines waiting to be posted, with the orders that they may pay."""

from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, cast

from orders.bank import bank_files, matching
from orders.bank.bank_files import Line
from orders.order.totals import deposit_of

if TYPE_CHECKING:
    from orders.bank.models import Statement, StatementLine
    from studio.accounts.models import Unit


@dataclass(frozen=True, slots=True)
class Choice:
    """An order that a line may pay, with the reason; `strength` as in `matching.Proposal`."""

    reference: str
    family: str
    balance_minor: int
    why: str
    strength: int


@dataclass(frozen=True, slots=True)
class Waiting:
    """A line waiting to be posted, with the orders that it may pay."""

    line: "StatementLine"
    choices: list[Choice]


def with_proposals(unit: "Unit", lines: list["StatementLine"]) -> list[Waiting]:
    """Return each line with the orders it may pay. Two queries for any number of lines."""
    rows, numbers = _rows(unit), _numbers(unit)
    by_key = {row.pk: row for row in rows}
    found = matching.propose(
        [Line(line.booked_on, line.amount_minor, line.words, line.name) for line in lines],
        [_owing(row, unit, numbers.get(row.pk, [])) for row in rows],
    )
    return [
        Waiting(
            line,
            [
                Choice(
                    by_key[proposal.key].job__reference,
                    by_key[proposal.key].job__family__name,
                    by_key[proposal.key].balance,
                    proposal.why,
                    proposal.strength,
                )
                for proposal in proposals
            ],
        )
        for line, proposals in zip(lines, found, strict=True)
    ]


def columns_for(statement: "Statement") -> bank_files.Columns | None:
    """Return the stored columns for a CSV with these headings; None if unknown or not a CSV."""
    data = bytes(statement.data or b"")
    if bank_files.kind_of(data) != "csv":
        return None
    known = statement.unit.bank_columns.filter(headings=bank_files.headings(data)).first()
    if known is None:
        return None
    facts: dict[str, Any] = {
        name: getattr(known, name) for name in bank_files.Columns.__dataclass_fields__
    }
    return bank_files.Columns(**facts)


def _rows(unit: "Unit") -> list[Any]:
    """Read the orders that are not fully paid. One query."""
    # The type stubs do not know the annotations.
    orders = cast(Any, unit.orders.unsettled().with_balance()).filter(balance__gt=0)
    return list(
        orders.values_list(
            "pk",
            "job__reference",
            "job__family__name",
            "job__family__contact_name",
            "total",
            "paid",
            "balance",
            named=True,
        )
    )


def _numbers(unit: "Unit") -> dict[int, list[str]]:
    """Read the numbers of invoices in force by unpaid order. One query."""
    numbers: dict[int, list[str]] = defaultdict(list)
    invoices = unit.invoices.in_force().filter(order__settled=False)
    for order_pk, number in invoices.values_list("order_id", "number"):
        numbers[order_pk].append(number)
    return numbers


def _owing(row: Any, unit: "Unit", numbers: list[str]) -> matching.Owing:
    deposit_left_minor = max(0, min(deposit_of(unit, row.total) - row.paid, row.balance))
    return matching.Owing(
        key=row.pk,
        reference=row.job__reference,
        balance_minor=row.balance,
        deposit_left_minor=deposit_left_minor,
        names=(row.job__family__name, row.job__family__contact_name),
        invoice_numbers=tuple(numbers),
    )
