"""Many jobs at every stage at once, as rows: what a list of hundreds costs, without walking the actions."""

import secrets
from datetime import timedelta
from itertools import cycle

from django.utils import timezone

from bookings.enquiries.models import Enquiry
from bookings.sittings.models import ClayPrint, Sitting
from orders.family_page.models import FamilyLink
from orders.invoices.models import Invoice
from orders.order.models import Order, OrderLine
from orders.payments.models import Payment
from production.casts.models import Cast, Pour, Weighing
from production.frames.models import Frame
from production.stock.models import Lot, Material, Purchase, StockMove
from studio import references
from studio.families.models import Child, Family
from studio.jobs.models import Job, JobEvent, Piece
from studio.limbs import Limb
from studio.stages import Stage
from tests import makers

UNPOURED = (Stage.BOOKED, Stage.CLAY_REST, Stage.CALLED_OFF)
FRAMED = (Stage.FRAMING, Stage.READY, Stage.HANDED_OVER)
LIMBS = (Limb.LEFT_HAND, Limb.RIGHT_FOOT)


def many(unit, count, *, family):
    """`count` jobs of two pieces, every other one of `family`; a `count` of all that hangs on jobs."""
    now, by = timezone.now(), makers.owner_of(unit)
    jobs = _jobs(unit, count, family, now)
    pieces = Piece.objects.bulk_create(
        Piece(job=job, child=job.family.children.all()[0], limb=limb)
        for job in jobs
        for limb in LIMBS
    )
    _sittings(unit, jobs, pieces, now)
    _casts(unit, pieces, now, by)
    _orders(unit, jobs, now, by)
    _stores(unit, count, jobs, now, by)
    Enquiry.objects.bulk_create(
        Enquiry(unit=unit, name=f"Asker {n}", phone="1", source="phone", received_at=now)
        for n in range(count)
    )


def _jobs(unit, count, family, now):
    families = Family.objects.bulk_create(
        Family(unit=unit, name=f"Family {n}", contact_name="Sam", phone="1") for n in range(count)
    )
    today = timezone.localdate(now)
    Child.objects.bulk_create(
        Child(family=each, first_name=name, born_on=today - timedelta(weeks=17))
        for each in families
        for name in ("Ada", "Bo")
    )
    stages = cycle(Stage)
    return Job.objects.bulk_create(
        Job(
            unit=unit,
            family=family if n % 2 else families[n],
            reference=references.new_reference(secrets.choice),
            stage=next(stages),
            promised_on=today - timedelta(days=1),
        )
        for n in range(count)
    )


def _sittings(unit, jobs, pieces, now):
    sittings = Sitting.objects.bulk_create(
        Sitting(
            unit=unit,
            job=job,
            starts_at=now,
            ends_at=now + timedelta(minutes=45),
            state="planned" if job.stage == Stage.BOOKED else "done",
        )
        for job in jobs
    )
    _clay_prints({sitting.job_id: sitting for sitting in sittings}, pieces, now)


def _clay_prints(at, pieces, now):
    ClayPrint.objects.bulk_create(
        ClayPrint(sitting=at[piece.job_id], piece=piece)
        if piece.job.stage == Stage.BOOKED
        else ClayPrint(sitting=at[piece.job_id], piece=piece, outcome="taken", taken_at=now)
        for piece in pieces
    )


def _casts(unit, pieces, now, by):
    pour = Pour.objects.create(
        unit=unit, poured_at=now, consistency=70, plaster_g=269, water_g=188, by=by
    )
    casts = Cast.objects.bulk_create(
        Cast(
            unit=unit,
            piece=piece,
            pour=pour,
            demoulded_at=None if piece.job.stage == Stage.CASTING else now,
            dry_at=now if piece.job.stage in FRAMED else None,
        )
        for piece in pieces
        if piece.job.stage not in UNPOURED
    )
    Weighing.objects.bulk_create(
        Weighing(cast=cast, at=now, mass_g=mass_g, by=by)
        for cast in casts
        if cast.demoulded_at
        for mass_g in (457, 401)
    )
    framed = {cast.piece.job for cast in casts if cast.dry_at}
    Frame.objects.bulk_create(
        (Frame(job=job, started_at=now) for job in framed), ignore_conflicts=True
    )


def _stores(unit, count, jobs, now, by):
    """A tenth as many materials, each with lots and orders; `count` lines in every ledger there is."""
    today = timezone.localdate(now)
    Material.objects.bulk_create(
        Material(
            unit=unit,
            kind="fixing",
            name=f"Screws {secrets.token_hex(4)}",
            measure="piece",
            used_at="frame",
            used_each=2,
            pack=100,
        )
        for _ in range(max(count // 10, 1))
    )
    for material in unit.materials.all():
        lots = Lot.objects.bulk_create(
            Lot(material=material, quantity=9, cost_minor=9, received_on=today, left=9)
            for _ in range(2)
        )
        Purchase.objects.create(
            material=material,
            quantity=9,
            cost_minor=9,
            ordered_on=today,
            expected_on=today,
            by=by,
        )
        StockMove.objects.bulk_create(
            StockMove(
                unit=unit,
                lot=lots[0],
                what="used",
                quantity=-1,
                value_minor=0,
                job=jobs[number % len(jobs)],
                at=now,
                by=by,
            )
            for number in range(count // 10)
        )


def _orders(unit, jobs, now, by):
    price_list, today = makers.prices(unit), timezone.localdate(now)
    orders = Order.objects.bulk_create(
        Order(unit=unit, job=job, price_list=price_list) for job in jobs
    )
    OrderLine.objects.bulk_create(
        OrderLine(order=order, label="A pair of casts", unit_minor=19900) for order in orders
    )
    Payment.objects.bulk_create(
        Payment(unit=unit, order=order, amount_minor=500, method="cash", received_on=today, by=by)
        for order in orders
    )
    Invoice.objects.bulk_create(
        Invoice(
            unit=unit,
            order=order,
            kind="invoice",
            number=f"MANY-{order.pk}",
            issued_on=today,
            supplied_on=today,
            total_minor=19900,
            content={},
            by=by,
        )
        for order in orders
    )


def much_on(job, count):
    """`count` more of all that one job may gather, and a tenth as many children with their piece."""
    now, by = timezone.now(), makers.owner_of(job.unit)
    children = Child.objects.bulk_create(
        Child(family=job.family, first_name="Cy", born_on=timezone.localdate(now))
        for _ in range(count // 10)
    )
    pieces = Piece.objects.bulk_create(
        Piece(job=job, child=child, limb=Limb.LEFT_HAND) for child in children
    )
    _clay_prints({job.pk: job.sittings.last()}, pieces, now)
    _casts(job.unit, pieces, now, by)
    JobEvent.objects.bulk_create(
        JobEvent(job=job, what="weigh", at=now, by=by, from_stage=job.stage, to_stage=job.stage)
        for _ in range(count)
    )
    FamilyLink.objects.bulk_create(
        FamilyLink(
            job=job,
            token_sha256=secrets.token_hex(32),
            made_at=now,
            made_by=by,
            expires_at=now + timedelta(days=9),
        )
        for _ in range(count)
    )
    Payment.objects.bulk_create(
        Payment(
            unit=job.unit,
            order=job.order,
            amount_minor=1,
            method="cash",
            received_on=timezone.localdate(now),
            by=by,
        )
        for _ in range(count)
    )
    Weighing.objects.bulk_create(
        Weighing(cast=cast, at=now, mass_g=352, by=by)
        for cast in Cast.objects.filter(piece__job=job, demoulded_at__isnull=False)
        for _ in range(count)
    )
