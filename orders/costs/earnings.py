"""Earnings of finished jobs: takings less material, minutes, fees and travel."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Any, cast

from django.db.models import Count, F, Q, Sum

from bookings.enquiries.models import Enquiry
from orders.costs import margin
from orders.costs.models import WorkRates
from orders.invoices.models import Invoice
from orders.order.models import OrderLine
from orders.payments.models import Payment
from orders.vouchers.balances import parts_of
from orders.vouchers.models import Voucher
from production.stock.costs import material_costs
from production.working_week.models import WorkingWeek
from studio.jobs.models import Job
from studio.stages import Stage

if TYPE_CHECKING:
    from django.db.models import QuerySet

    from studio.accounts.models import Unit


NO_SOURCE = "not known"


@dataclass(frozen=True, slots=True)
class Earnings:
    rates: margin.Rates
    jobs: list[margin.Earned]
    """The newest first."""
    by_kind: list[margin.Group]
    by_source: list[margin.Group]


def rates(unit: "Unit") -> margin.Rates:
    """Return the owner's rates with the royalty terms in force. Two queries."""
    own = WorkRates.objects.filter(unit=unit).first() or WorkRates(unit=unit)
    terms = unit.royalty_terms.first()
    share = terms.royalty_percent + terms.levy_percent if terms else Decimal(0)
    return margin.Rates(own.hour_minor, Decimal(own.card_percent), share)


def earnings(unit: "Unit", since: datetime, until: datetime) -> Earnings:
    """Return the earnings of jobs handed over in a period. A dozen queries for any number of jobs."""
    jobs = list(
        unit.jobs.filter(stage=Stage.HANDED_OVER, stage_since__gte=since, stage_since__lt=until)
        .select_related("family", "order", "effort")
        .order_by("-stage_since", "-pk")
    )
    works, reckoned = _works(unit, jobs), rates(unit)
    return Earnings(
        rates=reckoned,
        jobs=[margin.earned(work, reckoned) for work in works],
        by_kind=margin.by(works, reckoned, lambda work: work.group),
        by_source=margin.by(works, reckoned, lambda work: work.source),
    )


def earned(job: Job) -> margin.Earned:
    """Return what one job earns at its current price."""
    return margin.earned(_works(job.unit, [job])[0], rates(job.unit))


def usual_minutes(unit: "Unit", job: Job, pieces: int) -> int:
    """Return the usual minutes of a job from the working week: sitting, bench time per piece and
    frame.
    """
    week = WorkingWeek.objects.filter(unit=unit).first() or WorkingWeek(unit=unit)
    return _usual(unit, week, pieces)


def _usual(unit: "Unit", week: WorkingWeek, pieces: int) -> int:
    bucket = week.pour_minutes * pieces // week.moulds_per_pour
    each = week.demould_minutes + week.piece_minutes
    return unit.sitting_minutes + bucket + pieces * each + week.frame_minutes


def _works(unit: "Unit", jobs: list[Job]) -> list[margin.Work]:
    sums, sources, costs = _sums(jobs), _sources(jobs), material_costs(jobs)
    week = WorkingWeek.objects.filter(unit=unit).first() or WorkingWeek(unit=unit)
    works = []
    for job in jobs:
        known, effort = sums[job.pk], getattr(job, "effort", None)
        minutes = effort.minutes if effort and effort.minutes is not None else None
        works.append(
            margin.Work(
                key=job.reference,
                gross_minor=known["gross"],
                vat_minor=known["vat"],
                by_card_minor=known["card"],
                material_minor=costs[job.pk],
                minutes=_usual(unit, week, known["pieces"]) if minutes is None else minutes,
                travel_minor=effort.travel_minor if effort else 0,
                group=", ".join(known["kinds"]) or "not priced",
                source=sources.get(job.family_id, NO_SOURCE),
            )
        )
    return works


def _sums(jobs: list[Job]) -> dict[int, dict[str, Any]]:
    """Sum each job by its invoices in force, else by its order. Eight queries."""
    found: dict[int, dict[str, Any]] = defaultdict(
        lambda: {"gross": 0, "vat": 0, "card": 0, "pieces": 0, "kinds": []}
    )
    ours = {"order__job__in": jobs}
    lines = OrderLine.objects.filter(**ours).select_related("price").order_by("position", "pk")
    for line in lines.annotate(job_id=F("order__job_id")):
        known = found[cast(Any, line).job_id]
        known["gross"] += line.amount_minor
        if line.price and line.price.kind == "casts":
            known["kinds"].append(line.label if line.quantity == 1 else str(line))
    invoices = Invoice.objects.in_force().filter(**ours)
    for job_id, vat_minor in invoices.values_list("order__job_id", "vat_minor"):
        found[job_id]["vat"] += vat_minor
    _less_given(found, Payment.objects.filter(**ours).exclude(voucher=None))
    cards = Payment.objects.filter(method="card", **ours).order_by().values_list("order__job_id")
    for job_id, card_minor in cards.annotate(Sum("amount_minor")):
        found[job_id]["card"] = max(0, card_minor)
    on_the_job = Count("pieces", filter=Q(pieces__left_off_at=None))
    counted = Job.objects.filter(pk__in=[job.pk for job in jobs]).annotate(count=on_the_job)
    for job_id, pieces in cast(Any, counted).values_list("pk", "count"):
        found[job_id]["pieces"] = pieces
    return found


def _less_given(found: dict[int, dict[str, Any]], uses: "QuerySet[Payment]") -> None:
    """Replace payments by voucher by their part of the voucher's price, less VAT paid at the sale.
    Three queries.
    """
    rows = list(uses.values_list("pk", "order__job_id", "amount_minor", "taxed_before", "voucher"))
    parts = parts_of(Voucher.objects.filter(pk__in={row[-1] for row in rows}))
    for pk, job_id, minor, taxed_before, _ in rows:
        found[job_id]["gross"] -= minor - parts[pk].price_minor
        found[job_id]["vat"] += parts[pk].vat_minor if taxed_before else 0


def _sources(jobs: list[Job]) -> dict[int, str]:
    """Read how each family found the studio, by its first enquiry. One query."""
    rows = Enquiry.objects.filter(family__in={job.family_id for job in jobs})
    found: dict[int, str] = {}
    for family_id, source in rows.order_by("received_at").values_list("family_id", "source"):
        found.setdefault(family_id, str(Enquiry.Source(source).label))
    return found
