"""Bank statements: store the file, read its lines, post a line as a payment or set it aside."""

import hashlib
from collections.abc import Callable
from datetime import datetime
from uuid import UUID

from django.db import transaction

from orders.bank import bank_files
from orders.bank.models import BankColumns, Statement, StatementLine
from orders.bank.proposals import columns_for
from orders.order.models import Order
from orders.order.settlement import require_reason
from orders.payments.actions import take_payment
from orders.payments.models import Payment
from studio.accounts.models import Unit, User
from studio.jobs.job_action import lock_job
from studio.stages import ActionRefused

AT_ONCE = 500


@transaction.atomic
def take_statement(unit: Unit, *, name: str, data: bytes, by: User, at: datetime) -> Statement:
    """Store a statement's file until it is read; the same file again returns the same statement.

    Raises ActionRefused for an empty file or one larger than 20 MB.
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
def set_columns(unit: Unit, *, headings: list[str], columns: bank_files.Columns) -> BankColumns:
    """Store which column of a bank's CSV holds what, replacing an earlier answer for its headings."""
    facts = {name: getattr(columns, name) for name in columns.__dataclass_fields__}
    found, _ = BankColumns.objects.update_or_create(unit=unit, headings=headings, defaults=facts)
    return found


def read_statement(
    statement: Statement, *, tell: Callable[[int, int], None] = lambda done, total: None
) -> Statement:
    """Store every new line of incoming money, in batches of AT_ONCE.

    It may be interrupted and repeated: known lines are recognised by their fingerprint. A file that
    cannot be read stores no line and sets the statement's error.
    """
    if statement.state == Statement.State.READ:
        return statement
    try:
        lines = bank_files.read(
            bytes(statement.data or b""),
            currency=statement.unit.currency,
            columns=columns_for(statement),
        )
    except bank_files.Unreadable as error:
        statement.state, statement.error = Statement.State.UNREADABLE, str(error)[:300]
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
    """Delete a file that was never read. Raises ActionRefused for one that was."""
    held = Statement.objects.select_for_update().get(pk=statement.pk)
    if held.state == Statement.State.READ or held.lines.exists():
        raise ActionRefused("This file is read: its lines stay, so that nothing is posted twice.")
    held.delete()


@transaction.atomic
def post_line(line: StatementLine, order: Order, *, by: User, at: datetime, key: UUID) -> Payment:
    """Post a whole bank line as a payment of an order; money above the balance is owed back.

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
    """Mark a line as no payment of a family. Raises ActionRefused without a reason or if it is
    posted.
    """
    held = StatementLine.objects.select_for_update().get(pk=line.pk)
    why = require_reason(why, "Write what it is instead.")
    if held.set_aside_why == why:
        return held
    _refuse_done(held)
    held.set_aside_why, held.payment = why, None
    held.save(update_fields=["set_aside_why", "payment"])
    return held


@transaction.atomic
def put_line_back(line: StatementLine) -> StatementLine:
    """Let a line that was set aside wait to be posted again; repeating it changes nothing."""
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
            f"This line is posted already, on job {payment.order.job.display_reference}."
        )
