"""Bank statements: taken in, read, and each line posted or set aside by a click."""

import hashlib
from collections.abc import Callable
from datetime import datetime
from uuid import UUID

from django.db import transaction

from orders.bank import bank_files
from orders.bank.models import BankColumns, Statement, StatementLine
from orders.bank.proposals import columns_for
from orders.order.models import Order
from orders.order.settlement import the_reason
from orders.payments.actions import take_payment
from orders.payments.models import Payment
from studio.accounts.models import Unit, User
from studio.jobs.job_action import lock_job
from studio.stages import ActionRefused

AT_ONCE = 500


@transaction.atomic
def take_statement(unit: Unit, *, name: str, data: bytes, by: User, at: datetime) -> Statement:
    """Keep a file until it is read. The same file twice is one statement.

    Raises ActionRefused for an empty file or one that is too large.
    """
    if not data.strip():
        raise ActionRefused("This file is empty: export the statement again.")
    if len(data) > bank_files.LARGEST_BYTES:
        raise ActionRefused("This file is larger than 20 MB: export a shorter period.")
    statement, new = Statement.objects.select_for_update().get_or_create(
        unit=unit,
        digest=hashlib.sha256(data).hexdigest(),
        defaults={"name": name[:120], "data": data, "taken_at": at, "by": by},
    )
    if not new and statement.state == Statement.State.UNREADABLE:
        statement.state, statement.error, statement.data = Statement.State.WAITING, "", data
        statement.save(update_fields=["state", "error", "data"])
    return statement


@transaction.atomic
def say_columns(unit: Unit, *, headings: list[str], columns: bank_files.Columns) -> BankColumns:
    """Remember which column of a bank's CSV holds what; asked again, the last word holds."""
    facts = {name: getattr(columns, name) for name in columns.__dataclass_fields__}
    found, _ = BankColumns.objects.update_or_create(unit=unit, headings=headings, defaults=facts)
    return found


def read_statement(
    statement: Statement, *, tell: Callable[[int, int], None] = lambda done, total: None
) -> Statement:
    """Write down every line of money that came in and is not known yet, a few hundred at a time.

    It may be broken off and begun again: a line is known by its fingerprint. A file that cannot be
    read leaves no line, and says why.
    """
    if statement.state == Statement.State.READ:
        return statement
    try:
        lines = bank_files.read(
            bytes(statement.data or b""),
            currency=statement.unit.currency,
            columns=columns_for(statement),
        )
    except bank_files.Unreadable as told:
        statement.state, statement.error = Statement.State.UNREADABLE, str(told)[:300]
        statement.save(update_fields=["state", "error"])
        return statement
    came_in = bank_files.only_in(lines)
    for start in range(0, len(came_in), AT_ONCE):
        _write(statement, came_in[start : start + AT_ONCE])
        tell(min(start + AT_ONCE, len(came_in)), len(came_in))
    statement.state, statement.error, statement.data = Statement.State.READ, "", None
    statement.came_in, statement.went_out = len(came_in), len(lines) - len(came_in)
    statement.new = statement.lines.count()
    statement.save()
    return statement


@transaction.atomic
def drop_statement(statement: Statement) -> None:
    """Forget a file that was never read. Raises ActionRefused for one that was."""
    held = Statement.objects.select_for_update().get(pk=statement.pk)
    if held.state == Statement.State.READ or held.lines.exists():
        raise ActionRefused("This file is read: its lines stay, so that nothing is posted twice.")
    held.delete()


@transaction.atomic
def post_line(line: StatementLine, order: Order, *, by: User, at: datetime, key: UUID) -> Payment:
    """Enter a line of the bank as a payment of an order, whole; more than is owed is owed back.

    Raises ActionRefused for a line that is posted or set aside already.
    """
    lock_job(order.job)
    held = StatementLine.objects.select_for_update().get(pk=line.pk)
    if earlier := order.payments.filter(key=key).first():
        return earlier
    _refuse_done(held)
    payment = take_payment(
        order,
        amount_minor=held.amount_minor,
        method=Payment.Method.TRANSFER,
        received_on=held.booked_on,
        above=True,
        by=by,
        at=at,
        key=key,
    )
    held.payment = payment
    held.save(update_fields=["payment"])
    return payment


@transaction.atomic
def set_aside_line(line: StatementLine, *, why: str) -> StatementLine:
    """Say that a line is no payment of a family. Raises ActionRefused without a reason or once posted."""
    held = StatementLine.objects.select_for_update().get(pk=line.pk)
    why = the_reason(why, "Write what it is instead.")
    if held.set_aside_why == why:
        return held
    _refuse_done(held)
    held.set_aside_why, held.payment = why, None
    held.save(update_fields=["set_aside_why", "payment"])
    return held


@transaction.atomic
def put_line_back(line: StatementLine) -> StatementLine:
    """Let a line wait again that was set aside. Twice is once."""
    held = StatementLine.objects.select_for_update().get(pk=line.pk)
    held.set_aside_why = ""
    held.save(update_fields=["set_aside_why"])
    return held


@transaction.atomic
def _write(statement: Statement, lines: list[bank_files.Line]) -> None:
    StatementLine.objects.bulk_create(
        [
            StatementLine(
                unit=statement.unit,
                statement=statement,
                fingerprint=line.fingerprint,
                booked_on=line.booked_on,
                amount_minor=line.amount_minor,
                words=line.words[:300],
                name=line.name[:140],
            )
            for line in lines
        ],
        ignore_conflicts=True,
    )


def _refuse_done(line: StatementLine) -> None:
    if line.set_aside_why:
        raise ActionRefused(f"This line was set aside: {line.set_aside_why} Put it back first.")
    payment = line.payment
    if payment and not Payment.objects.filter(reverses=payment).exists():
        raise ActionRefused(
            f"This line is posted already, on job {payment.order.job.spoken_reference}."
        )
