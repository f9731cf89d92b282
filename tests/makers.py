"""Units, families and jobs for the tests, brought about by the actions that people use."""

import io
import itertools
import uuid
from datetime import date, timedelta

from django.utils import timezone
from PIL import Image

from orders.order.totals import balance_of
from orders.order_page.actions import call_off, hand_over
from orders.payments.actions import take_payment
from studio.accounts.models import Membership, Unit, User
from studio.families import actions
from studio.limbs import Limb
from studio.roles import Role
from studio.stages import Stage

PASSWORD = "clay-and-oak-7"
_counter = itertools.count(1)


def a_unit(name="Hollin Casts", **facts):
    return Unit.objects.create(
        name=name,
        **{
            "trader_name": "Marian Hollin",
            "address": "4 Kiln Yard\nAshmouth",
            "postcode": "CF10 9ZZ",
            "phone": "01632 960111",
            "email": "hollin@example.com",
            **facts,
        },
    )


def a_person(unit, role=Role.OWNER):
    number = next(_counter)
    user = User.objects.create_user(
        f"person{number}@example.com", PASSWORD, name=f"Person {number}"
    )
    Membership.objects.create(user=user, unit=unit, role=role)
    return user


def owner_of(unit):
    membership = unit.memberships.filter(role=Role.OWNER).first()
    return membership.user if membership else a_person(unit)


def a_family(unit, *, name="Okafor", children=("Ada",), born_on=None, now=None, **facts):
    """A family whose children are 17 weeks old unless `born_on` says otherwise."""
    today = timezone.localdate(now)
    return actions.add_family(
        unit,
        facts={
            "name": name,
            "contact_name": f"Sam {name}",
            "phone": "07700 900123",
            "email": f"{name.lower()}@example.com",
            "address": "9 Quay Row\nAshmouth",
            "postcode": "CF10 9ZZ",
            **facts,
        },
        children=[
            {"first_name": first_name, "born_on": born_on or today - timedelta(weeks=17)}
            for first_name in children
        ],
    )


def a_job(unit, *, pieces=2, family=None, by=None, at=None, starts_at=None):
    """A booked job with a planned sitting, tomorrow at ten unless `starts_at` says otherwise."""
    from bookings.diary.actions import book_sitting  # noqa: PLC0415 - makers serve apps one by one

    at = at or timezone.now()
    family = family or a_family(unit, now=at)
    child = family.children.oldest_first()[0]
    starts_at = starts_at or next_morning(unit, at)
    let_make(family, by=by or owner_of(unit), at=at)
    return book_sitting(
        family,
        wanted=[(child, limb) for limb in list(Limb)[:pieces]],
        starts_at=starts_at,
        minutes=unit.sitting_minutes,
        by=by or owner_of(unit),
        at=at,
        key=uuid.uuid4(),
    ).job


def let_make(family, *, by, at):
    """The family says yes to prints and casts, once; without that no sitting is finished."""
    from bookings.consent.actions import give_consent  # noqa: PLC0415

    if not family.consents.in_force().filter(purpose="make").exists():
        give_consent(
            family,
            purpose="make",
            given_by=family.contact_name,
            by=by,
            at=at,
            key=uuid.uuid4(),
        )


def next_morning(unit, at):
    """The first free ten o'clock or later half hour of the diary after `at`."""
    moment = (at + timedelta(days=1)).replace(hour=10, minute=0, second=0, microsecond=0)
    while unit.sittings.overlapping(
        moment, moment + timedelta(minutes=unit.sitting_minutes)
    ).exists():
        moment += timedelta(minutes=unit.sitting_minutes)
    return moment


def job_at(stage, unit, *, pieces=2, by=None, at=None, family=None):
    """A job that came to `stage` by the actions, its sitting having been 9 days before `at`."""
    at = at or timezone.now()
    by = by or owner_of(unit)
    prices(unit)
    booked_at = at - timedelta(days=12)
    job = a_job(
        unit,
        pieces=pieces,
        family=family,
        by=by,
        at=booked_at,
        starts_at=next_morning(unit, booked_at),
    )
    if stage == Stage.CALLED_OFF:
        call_off(
            job,
            seen=Stage.BOOKED,
            keep_minor=0,
            why="They moved away.",
            by=by,
            at=at,
            key=uuid.uuid4(),
        )
    else:
        for step in _WAY:
            if job.stage == stage:
                break
            step(job, by, booked_at)
            job.refresh_from_db()
    assert job.stage == stage
    return job


def prices(unit):
    """The unit's price list in force for years, made once."""
    from orders.prices.models import PriceList  # noqa: PLC0415

    found = PriceList.objects.filter(unit=unit).first()
    if found:
        return found
    made = PriceList.objects.create(unit=unit, valid_from=date(2020, 1, 1))
    for order, (kind, label, amount_minor, count) in enumerate(
        [
            ("casts", "Single cast, framed", 12500, 1),
            ("casts", "Pair of casts, framed", 19900, 2),
            ("casts", "Set of four casts, framed", 34500, 4),
            ("backing", "Chalk linen", 0, 0),
            ("backing", "Deep blue felt", 1200, 0),
            ("finish", "Waxed oak", 0, 0),
            ("finish", "Limed oak", 1500, 0),
            ("extra", "Engraved plate", 2200, 0),
        ]
    ):
        option = None
        if kind in ("backing", "finish"):
            option, _ = unit.frame_options.get_or_create(kind=kind, name=label)
        made.prices.create(
            kind=kind,
            label=label,
            option=option,
            amount_minor=amount_minor,
            pieces=count,
            order=order,
        )
    return made


def a_jpeg(width=640, height=480, **save):
    """The bytes of a picture as a camera makes it."""
    made = io.BytesIO()
    Image.new("RGB", (width, height), (180, 160, 140)).save(made, "JPEG", **save)
    return made.getvalue()


def take_prints(job, by, at):
    from bookings.sittings import actions as sittings_actions  # noqa: PLC0415

    sitting = job.sittings.planned().get()
    for clay_print in sitting.prints.all():
        sittings_actions.log_print(
            clay_print, outcome="taken", by=by, at=sitting.starts_at, key=uuid.uuid4()
        )
    sittings_actions.finish_sitting(
        sitting, put_off="leave", by=by, at=sitting.ends_at, key=uuid.uuid4()
    )


def pour_all(job, by, at):
    from production.bench import actions as bench_actions  # noqa: PLC0415

    bench_actions.pour(
        job.unit,
        pieces=list(job.pieces.on_the_job()),
        plaster_g=538,
        water_g=377,
        consistency=70,
        by=by,
        at=at + timedelta(days=1, hours=6),
        key=uuid.uuid4(),
    )


def demould_all(job, by, at):
    from production.bench import actions as bench_actions  # noqa: PLC0415
    from production.casts.models import Cast  # noqa: PLC0415

    for cast in Cast.objects.in_the_mould().filter(piece__job=job):
        bench_actions.demould(cast, by=by, at=at + timedelta(days=1, hours=9), key=uuid.uuid4())


def dry_all(job, by, at):
    from production.bench import framing, weighing  # noqa: PLC0415
    from production.casts.models import Cast  # noqa: PLC0415

    for cast in Cast.objects.damp().filter(piece__job=job):
        for days, mass_g in ((1.4, 457.0), (4, 352.0), (8, 320.0), (9, 319.9)):
            weighing.weigh(
                cast, mass_g=mass_g, by=by, at=at + timedelta(days=days), key=uuid.uuid4()
            )
    framing.start_framing(
        job, seen=Stage.DRYING, by=by, at=at + timedelta(days=9, hours=1), key=uuid.uuid4()
    )


def frame(job, by, at):
    from production.bench import framing  # noqa: PLC0415

    at += timedelta(days=10)
    for step in ("mounted", "closed", "backed", "sealed", "checked"):
        framing.tick_frame(job, step=step, by=by, at=at, key=uuid.uuid4())
    framing.make_ready(job, seen=Stage.FRAMING, by=by, at=at, key=uuid.uuid4())


def pay_and_hand_over(job, by, at):

    at += timedelta(days=11)
    take_payment(
        job.order,
        amount_minor=balance_of(job.order),
        method="card",
        received_on=timezone.localdate(at),
        by=by,
        at=at,
        key=uuid.uuid4(),
    )
    hand_over(job, seen=Stage.READY, by=by, at=at, key=uuid.uuid4())


_WAY = (take_prints, pour_all, demould_all, dry_all, frame, pay_and_hand_over)


def frame_range(unit):
    """A moulding and three sizes; two offcuts in the rack. The moulding."""
    from production.frames import actions as frames  # noqa: PLC0415 - makers serve apps one by one

    oak = frames.add_moulding(
        unit,
        facts={
            "name": "Plain oak 30",
            "face_mm": 30,
            "height_mm": 40,
            "rebate_mm": 8,
            "rebate_depth_mm": 28,
        },
    )
    for name, width_mm, height_mm in (("Single", 160, 230), ("Pair", 260, 230), ("Set", 480, 260)):
        facts = {"name": name, "width_mm": width_mm, "height_mm": height_mm}
        frames.add_frame_size(unit, facts=facts)
    for length_mm in (900, 410):
        facts = {"length_mm": length_mm}
        frames.add_offcut(oak, facts=facts, at=timezone.now(), key=uuid.uuid4())
    return oak


def cut(*jobs, by, at=None):
    """The rails of these jobs cut as their drawing says. The cutting."""
    from production.frames import actions as frames  # noqa: PLC0415 - as above
    from production.frames import page as frames_page  # noqa: PLC0415

    unit, at = jobs[0].unit, at or timezone.now()
    page = frames_page.frames_page(unit, at, ticked=[job.reference for job in jobs])
    return frames.confirm_cutting(
        unit,
        moulding=page.moulding,
        jobs=jobs,
        seal=page.week.seal,
        by=by,
        at=at,
        key=uuid.uuid4(),
    )


def details(event):
    """An event as the history tells it under its heading."""
    return event.details({piece.pk: str(piece) for piece in event.job.pieces.all()})
