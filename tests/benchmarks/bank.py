"""A bank's file of ten thousand rows, read by the worker and matched against the orders of the history.

    DATABASE_URL=… python -m tests.benchmarks.bank

prints what was measured as JSON.
"""

import json
import sys
from datetime import timedelta
from time import perf_counter
from uuid import uuid4

import django
from django.utils import timezone

ROWS = 10_000
GOAL_S = 10
HEADINGS = ["Date", "Payer", "Details", "Amount"]


def measure():
    """Seconds to read and write down, to match all that waits, and to read the same file again."""

    from orders.bank.actions import (  # noqa: PLC0415 - after django.setup()
        read_statement,
        set_columns,
        take_statement,
    )
    from orders.bank.bank_files import Columns  # noqa: PLC0415
    from orders.bank.proposals import with_proposals  # noqa: PLC0415
    from studio.accounts.models import Unit  # noqa: PLC0415
    from studio.work.models import Work  # noqa: PLC0415
    from studio.work.queue import _kinds, begin_work  # noqa: PLC0415

    unit = Unit.objects.get(name="Hollin Casts")
    facts = {"by": unit.memberships.get().user, "at": timezone.now()}
    columns = Columns(booked_on="Date", words="Details", amount="Amount", name="Payer")
    set_columns(unit, headings=HEADINGS, columns=columns)
    statement = take_statement(unit, name="year.csv", data=_file(unit), **facts)
    asked = begin_work(
        unit,
        "bank_statement",
        title="A statement",
        facts={"statement": statement.pk},
        key=uuid4(),
        **facts,
    )
    told, read = [], _kinds["bank_statement"][0]
    began = perf_counter()
    made = read(
        Work.objects.select_related("unit", "by").get(pk=asked.pk),
        lambda done, total: told.append([perf_counter() - began, done]),
    )
    read_s = perf_counter() - began
    lines = list(unit.statement_lines.waiting())
    began = perf_counter()
    matched = sum(bool(each.choices) for each in with_proposals(unit, lines))
    matched_s = perf_counter() - began
    # Another file of the same rows: the bytes of the first would be the first statement.
    again = take_statement(unit, name="again.csv", data=_file(unit) + b"\n", **facts)
    return {
        "words": made.words,
        "read_s": read_s,
        "told": told,
        "waiting": len(lines),
        "matched": matched,
        "matched_s": matched_s,
        "new_again": read_statement(again).new,
    }


def lines(said):
    longest = max(
        after - before
        for (before, _), (after, _) in zip([[0, 0], *said["told"]], said["told"], strict=False)
    )
    yield ""
    yield f"A bank's file of {ROWS:,} rows: {said['words']}"
    yield f"  seconds to read and keep it        {said['read_s']:6.2f}   goal < {GOAL_S}"
    yield f"  told how far it is                 {len(said['told']):3} times, {longest:.2f} s apart at most"
    yield (
        f"  seconds to match {said['waiting']:,} that wait  {said['matched_s']:6.2f},"
        f" {said['matched']:,} with a proposal"
    )
    yield f"  the same rows again                {said['new_again']:3} new lines   goal 0"


def _file(unit):
    """A year of payments: every other one says an order's reference, the rest a name or nothing."""
    today = timezone.localdate()
    found = list(unit.jobs.values_list("reference", "family__name")[:500])
    rows = [",".join(HEADINGS)]
    for number in range(ROWS):
        reference, name = found[number % len(found)]
        words = f"casts {reference}" if number % 2 else f"thank you {number}"
        day = today - timedelta(days=number % 365)
        rows.append(f"{day:%d/%m/%Y},{name},{words},{10 + number / 100:.2f}")
    return "\n".join(rows).encode()


if __name__ == "__main__":
    django.setup()
    sys.stdout.write(json.dumps(measure()))
