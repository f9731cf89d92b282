"""Invoice and weekly sheet as PDFs, against the printer without us and against a naive table.

    DATABASE_URL=… python -m tests.benchmarks.papers invoice|batch|sheet

runs on a written history and prints the ratios as JSON.
"""

import json
import os
import secrets
import sys
from dataclasses import asdict
from html import escape
from pathlib import Path
from time import perf_counter
from uuid import uuid4

import django
from django.utils import timezone

from orders.invoices.actions import issue_invoice
from orders.order.actions import add_extra
from tests.benchmarks.history import MONDAY
from tests.benchmarks.measure import Ratio, in_turn

ROUNDS = {"invoice": 15, "sheet": 5}
BATCH = 500
EXTRAS = 44  # lines enough for a third page


def invoice():
    """The function of the view against WeasyPrint with the same HTML and style, given no option."""
    from django.template.loader import render_to_string  # noqa: PLC0415 - after django.setup()

    from orders.invoices import invoice_pdf  # noqa: PLC0415
    from studio.web import paper  # noqa: PLC0415

    issued = _long_invoice()
    context = {"paper": invoice_pdf._readable(issued.content)}
    pages = len(paper.document("paper/invoice.html", context).render().pages)
    html = render_to_string("paper/invoice.html", context)
    ours, theirs = in_turn(
        lambda: invoice_pdf.invoice_pdf(issued),
        lambda: paper._html(html).write_pdf(),
        ROUNDS["invoice"],
        warm=1,
    )
    yield Ratio(f"An invoice of {pages} pages", ours, theirs, 1.25, "median")


def batch():
    """Five hundred invoices as the worker issues them: seconds, and its memory every fifty."""
    from orders.invoices.batch import ISSUE_INVOICES  # noqa: PLC0415 - after django.setup()
    from studio.accounts.models import Unit  # noqa: PLC0415
    from studio.work import queue  # noqa: PLC0415
    from studio.work.models import Work  # noqa: PLC0415

    unit = Unit.objects.get(name="Hollin Casts")
    asked = queue.begin_work(
        unit,
        ISSUE_INVOICES,
        title="A batch",
        facts={"orders": _many_orders(unit)},
        by=unit.memberships.get().user,
        at=timezone.now(),
        key=uuid4(),
    )
    seen_mb, issue = [], queue._kinds[ISSUE_INVOICES][0]

    def tell(done, _total):
        if done % 50 == 0:
            seen_mb.append(_memory_mb())

    began = perf_counter()
    made = issue(Work.objects.select_related("unit", "by").get(pk=asked.pk), tell)
    yield {"words": made.words, "seconds": perf_counter() - began, "mb": seen_mb}


def sheet():
    """A week of 60 jobs against a naive table of the same tasks, and 120 jobs against 60."""
    from weasyprint import HTML  # noqa: PLC0415 - loading it takes a second

    from production.weekly_sheet.paper import sheet_context, weekly_sheet  # noqa: PLC0415
    from studio import units  # noqa: PLC0415
    from studio.accounts.models import Unit  # noqa: PLC0415

    days = units.parse_week(units.week_of(timezone.localdate(MONDAY)))
    sixty, twice = (Unit.objects.get(name=f"Sheet of {jobs}") for jobs in (60, 120))
    shown = sheet_context(sixty, days, MONDAY)["plans"]
    tasks, naive = _naive([each.plan for each in shown])
    ours, theirs = in_turn(
        lambda: weekly_sheet(sixty, days, MONDAY),
        lambda: HTML(string=naive).write_pdf(),
        ROUNDS["sheet"],
        warm=1,
    )
    yield Ratio(f"The week of 60 jobs ({tasks} tasks)", ours, theirs, 0.6, "median")
    ours, theirs = in_turn(
        lambda: weekly_sheet(twice, days, MONDAY),
        lambda: weekly_sheet(sixty, days, MONDAY),
        ROUNDS["sheet"],
        warm=1,
    )
    yield Ratio("The week of 120 jobs against 60", ours, theirs, 2.2, "median")


def _many_orders(unit):
    """Orders of ready jobs without an invoice, as rows: each a pair, a backing and a finish."""
    from orders.order.models import Order, OrderLine  # noqa: PLC0415
    from studio import references  # noqa: PLC0415
    from studio.jobs.models import Job  # noqa: PLC0415

    family = unit.families.exclude(address="").first()
    prices = unit.price_lists.first()
    jobs = Job.objects.bulk_create(
        Job(
            unit=unit,
            family=family,
            reference=references.new_reference(secrets.choice),
            stage="ready",
        )
        for _ in range(BATCH)
    )
    orders = Order.objects.bulk_create(Order(unit=unit, job=job, price_list=prices) for job in jobs)
    OrderLine.objects.bulk_create(
        OrderLine(order=order, label=label, unit_minor=minor, position=place)
        for order in orders
        for place, (label, minor) in enumerate(
            [("Pair of casts, framed", 19900), ("Chalk linen", 0), ("Limed oak", 1500)]
        )
    )
    return [order.pk for order in orders]


def _memory_mb():
    """What this process holds now."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


def _long_invoice():
    """Issued by the actions that people use, with as many extras as three pages take."""
    from studio.accounts.models import Unit  # noqa: PLC0415

    unit = Unit.objects.get(name="Hollin Casts")
    job = unit.jobs.filter(stage="ready").first()
    facts = {"by": unit.memberships.get().user, "at": timezone.now()}
    extra = job.order.price_list.prices.filter(kind="extra")[0]
    for _ in range(EXTRAS):
        add_extra(job.order, price=extra, quantity=1, key=uuid4(), **facts)
    return issue_invoice(job.order, key=uuid4(), **facts)


def _naive(plans):
    """The same tasks as anybody would write them first: one plain table, one row a task."""
    rows = [
        (
            f"{plan.on:%a %d %b}",
            "☐",
            task.kind.replace("_", " "),
            task.job.reference,
            task.piece.name if task.piece else task.job.names,
            _how(task),
            f"{task.job.promised_on:%a %d %b}" if task.job.promised_on else "",
            "______ g" if task.kind == "weigh" else "",
        )
        for plan in plans
        for task in plan.tasks
    ]
    cells = ["".join(f"<td>{escape(cell)}</td>" for cell in row) for row in rows]
    return len(rows), f"<table>{''.join(f'<tr>{row}</tr>' for row in cells)}</table>"


def _how(task):
    """What the sheet says of a task beside its name."""
    said = [f"LATE: {task.late_why}"] if task.late_why else []
    if task.kind == "pour":
        said.append(f"{task.piece.plaster_g:.0f} + {task.piece.water_g:.0f} g")
    elif task.kind == "weigh" and task.piece.last_g:
        said.append(f"place {task.piece.rack_place}, last {task.piece.last_g:.1f} g")
    elif task.kind == "frame":
        said.append("☐ mounted ☐ closed ☐ backed ☐ sealed ☐ checked")
    return ", ".join(said)


TASKS = {"invoice": invoice, "batch": batch, "sheet": sheet}

if __name__ == "__main__":
    django.setup()
    sys.stdout.write(
        json.dumps(
            [each if isinstance(each, dict) else asdict(each) for each in TASKS[sys.argv[1]]()]
        )
    )
