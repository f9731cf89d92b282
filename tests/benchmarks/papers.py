"""Invoice and weekly sheet as PDFs, against the printer without us and against a naive table.

    DATABASE_URL=… python -m tests.benchmarks.papers invoice|sheet

runs on a written history and prints the ratios as JSON.
"""

import json
import sys
from dataclasses import asdict
from html import escape
from uuid import uuid4

import django
from django.utils import timezone

from tests.benchmarks.history import MONDAY
from tests.benchmarks.measure import Ratio, in_turn

ROUNDS = {"invoice": 15, "sheet": 5}
EXTRAS = 44  # lines enough for a third page


def invoice():
    """The function of the view against WeasyPrint with the same HTML and style, given no option."""
    from django.template.loader import render_to_string  # noqa: PLC0415 - after django.setup()

    from orders import pdf  # noqa: PLC0415
    from studio import paper  # noqa: PLC0415

    issued = _long_invoice()
    context = {"paper": pdf._readable(issued.content)}
    pages = len(paper.document("paper/invoice.html", context).render().pages)
    html = render_to_string("paper/invoice.html", context)
    ours, theirs = in_turn(
        lambda: pdf.invoice_pdf(issued),
        lambda: paper._html(html).write_pdf(),
        ROUNDS["invoice"],
        warm=1,
    )
    yield Ratio(f"An invoice of {pages} pages", ours, theirs, 1.2, "median")


def sheet():
    """A week of 60 jobs against a naive table of the same tasks, and 120 jobs against 60."""
    from weasyprint import HTML  # noqa: PLC0415 - loading it takes a second

    from production.sheet import sheet_context, weekly_sheet  # noqa: PLC0415
    from studio import units  # noqa: PLC0415
    from studio.models import Unit  # noqa: PLC0415

    days = units.parse_week(units.week_of(timezone.localdate(MONDAY)))
    sixty, twice = (Unit.objects.get(name=f"Sheet of {jobs}") for jobs in (60, 120))
    tasks, naive = _naive(sheet_context(sixty, days, MONDAY)["plans"])
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


def _long_invoice():
    """Issued by the actions that people use, with as many extras as three pages take."""
    from orders import actions  # noqa: PLC0415
    from studio.models import Unit  # noqa: PLC0415

    unit = Unit.objects.get(name="Hollin Casts")
    job = unit.jobs.filter(stage="ready").first()
    facts = {"by": unit.memberships.get().user, "at": timezone.now()}
    extra = job.order.price_list.prices.filter(kind="extra")[0]
    for _ in range(EXTRAS):
        actions.add_extra(job.order, price=extra, quantity=1, key=uuid4(), **facts)
    return actions.issue_invoice(job.order, key=uuid4(), **facts)


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


TASKS = {"invoice": invoice, "sheet": sheet}

if __name__ == "__main__":
    django.setup()
    sys.stdout.write(json.dumps([asdict(ratio) for ratio in TASKS[sys.argv[1]]()]))
