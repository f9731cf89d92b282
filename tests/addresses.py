"""Every address of the site, and a small studio that has something at each of them.

The addresses are read from the site itself. One with arguments needs a row in `ROWS`; an address
without a row is an error, so a new page cannot stay unwatched.
"""

import io
import uuid
from dataclasses import dataclass
from datetime import timedelta

from django.urls import URLPattern, URLResolver, get_resolver, reverse
from django.utils import timezone

from studio.models import Family, Job, Limb, Unit
from studio.stages import Stage
from studio.tablet import Entry
from studio.tablet_actions import keep_entry
from tests import makers

DJANGOS_OWN = "admin"  # closed to all but its superuser; tests/test_strangers.py says so


@dataclass(frozen=True)
class Studio:
    """A unit in the middle of its work: a job at every stage, and one of each thing on them."""

    unit: Unit
    family: Family
    jobs: dict[Stage, Job]
    undated: Job
    all_dry: Job
    tokens: dict[Stage, str]

    def at(self, stage):
        return self.jobs[stage]

    @property
    def order(self):
        return self.at(Stage.BOOKED).order

    @property
    def sitting(self):
        return self.at(Stage.BOOKED).sittings.planned().get()

    @property
    def link(self):
        return self.at(Stage.READY).parent_links.get()

    @property
    def entry(self):
        return self.unit.tablet_entries.get()

    def cast(self, stage):
        return self.unit.casts.filter(piece__job=self.at(stage)).first()

    def price(self, kind):
        return self.order.price_list.prices.filter(kind=kind).last()


def a_studio(unit, *, now=None):
    """The unit with a job at every stage, brought there by what people do."""
    now = now or timezone.now()
    by = makers.owner_of(unit)
    unit.payment_words = "Ashmouth Savings, sort code 00-00-00, account 00000000"
    unit.save()
    family = makers.a_family(
        unit,
        name="Featherstone-Abercrombie",
        children=("Wilhelmina-Josephine", "Bo"),
        email="wilhelmina.featherstone-abercrombie.the.second@example.com",
        note="Park behind the chapel; the dog is called Turnip.",
    )
    jobs = {
        stage: makers.job_at(
            stage,
            unit,
            pieces=4 if stage == Stage.FRAMING else 2,
            by=by,
            at=now,
            family=family if stage == Stage.READY else None,
        )
        for stage in Stage
    }
    undated = makers.a_job(unit, by=by, at=now)
    studio = Studio(
        unit=unit,
        family=family,
        jobs=jobs,
        undated=undated,
        all_dry=makers.job_at(Stage.DRYING, unit, by=by, at=now),
        tokens={},
    )
    _fill(studio, by, now)
    return studio


def _fill(studio, by, now):
    from bookings import actions as bookings  # noqa: PLC0415 - makers serve apps one by one
    from bookings import photos  # noqa: PLC0415
    from orders import actions as orders  # noqa: PLC0415
    from production import actions as production  # noqa: PLC0415

    def who(at=now):
        return {"by": by, "at": at, "key": uuid.uuid4()}

    _say_on_a_tablet(studio, by, now)
    for purpose in ("keep", "show"):
        bookings.give_consent(studio.family, purpose=purpose, given_by="Sam", **who())
    bookings.cancel_sitting(
        studio.undated.sittings.planned().get(), why="Bo has a cold.", seen_version=1, **who()
    )
    bookings.take_enquiry(
        studio.unit,
        facts={"name": "Robin Weatherall", "phone": "07700 900456", "source": "phone"},
        at=now - timedelta(days=3),
        key=uuid.uuid4(),
    )
    for stage in (Stage.BOOKED, Stage.DRYING, Stage.READY):
        job = studio.at(stage)
        if stage != Stage.READY:  # whose family is `studio.family`
            bookings.give_consent(job.family, purpose="keep", given_by="Sam", **who())
        clean = photos.clean(io.BytesIO(makers.a_jpeg()))
        bookings.add_photo(job, clean=clean, kind="finished", piece=job.pieces.first(), **who())
    for days, mass_g in ((1, 457.0), (3, 380.5)):
        production.weigh(
            studio.cast(Stage.DRYING), mass_g=mass_g, **who(now - timedelta(days=9 - days))
        )
    for cast in studio.unit.casts.filter(piece__job=studio.all_dry):
        production.release_dry(cast, why="Rang like a bell.", **who())
    for stage, job in studio.jobs.items():
        _, studio.tokens[stage] = orders.make_link(job, by=by, at=now)
    orders.add_reduction(studio.order, label="A friend of the house", amount_minor=500, **who())
    orders.take_payment(
        studio.order,
        amount_minor=5000,
        method="transfer",
        received_on=timezone.localdate(now),
        **who(),
    )
    orders.issue_invoice(studio.at(Stage.READY).order, **who())
    # May go home unpaid: it can be paid and handed over from the same page.
    orders.release_on_account(studio.at(Stage.READY).order, why="Sam pays on Friday.", **who())
    credited = orders.issue_invoice(studio.at(Stage.DRYING).order, **who())
    orders.credit_invoice(credited, why="The wrong address.", **who())


def _say_on_a_tablet(studio, by, now):
    """Something that was not taken in, and waits for a person."""
    said = Entry(
        device=uuid.uuid4(),
        seq=1,
        key=uuid.uuid4(),
        kind="finish",
        sitting=studio.sitting.pk,
        facts={"put_off": "split"},
        seen=None,
        said_at=now,
        at=now,
    )
    assert keep_entry(studio.unit, entry=said, by=by, at=now).waits


def _by_reference(*stages):
    return lambda studio: [{"reference": studio.at(stage).reference} for stage in stages]


def _family(studio):
    return [{"pk": studio.family.pk}, {"pk": studio.at(Stage.BOOKED).family_id}]


def _enquiry(studio):
    return [{"pk": studio.unit.enquiries.get().pk}]


def _sitting(studio):
    return [{"pk": studio.sitting.pk}]


def _cast(*stages):
    return lambda studio: [{"pk": studio.cast(stage).pk} for stage in stages]


def _price_list(studio):
    return [{"pk": studio.order.price_list_id}]


def _price(studio):
    return [{"pk": studio.price("extra").pk}]


def _invoice(studio):
    return [{"number": studio.at(Stage.READY).order.invoices.get().number}]


def _line(studio):
    line = studio.order.lines.get(price=None)
    return [{"reference": studio.at(Stage.BOOKED).reference, "pk": line.pk}]


def _payment(studio):
    payment = studio.order.payments.get()
    return [{"reference": studio.at(Stage.BOOKED).reference, "pk": payment.pk}]


def _week(studio):
    return [{"week": f"{timezone.localdate():%G-W%V}"}]


def _week_of_sitting(studio):
    return [{"week": f"{timezone.localdate(studio.sitting.starts_at):%G-W%V}"}]


def _link(studio, **more):
    return [{"public_id": studio.link.public_id, **more}]


BOOKED = _by_reference(Stage.BOOKED)

ROWS = {
    "studio:family": _family,
    "studio:edit_family": _family,
    "studio:add_child": _family,
    "studio:edit_child": lambda s: [{"pk": s.family.children.first().pk}],
    "studio:job": _by_reference(*Stage),
    "studio:promise": _by_reference(Stage.DRYING),
    "studio:leave_off_piece": lambda s: [{"pk": s.at(Stage.BOOKED).pieces.first().pk}],
    "studio:settle_entry": lambda s: [{"key": s.entry.key}],
    "bookings:book_sitting": _family,
    "bookings:book_again": lambda s: [{"reference": s.undated.reference}],
    "bookings:move_sitting": _sitting,
    "bookings:cancel_sitting": _sitting,
    "bookings:sitting": lambda s: [
        {"pk": s.sitting.pk},
        {"pk": s.at(Stage.CLAY_REST).sittings.get().pk},
    ],
    "bookings:finish_sitting": _sitting,
    "bookings:settle_entry": lambda s: [{"pk": s.sitting.pk, "key": s.entry.key}],
    "bookings:tablet_photo": lambda s: [{"key": uuid.UUID(int=7)}],
    "bookings:log_impression": lambda s: [{"pk": s.sitting.impressions.first().pk}],
    "bookings:give_consent": _family,
    "bookings:withdraw_consent": lambda s: [{"pk": s.family.consents.first().pk}],
    "bookings:add_photo": _by_reference(Stage.CASTING, Stage.DRYING),
    "bookings:erase_photos": _family,
    "bookings:piece": lambda s: [
        {"reference": job.reference, "number": 1} for job in s.jobs.values()
    ],
    "bookings:labels_of_sitting": _sitting,
    "bookings:labels_of_week": _week_of_sitting,
    "bookings:photo": lambda s: [{"public_id": s.at(Stage.READY).photos.get().public_id}],
    "bookings:answer_with_family": _enquiry,
    "bookings:answer_with_new_family": _enquiry,
    "bookings:decline_enquiry": _enquiry,
    "production:demould": _cast(Stage.CASTING),
    "production:weigh": _cast(Stage.DRYING, Stage.FRAMING),
    "production:place_on_rack": _cast(Stage.DRYING),
    "production:release_dry": _cast(Stage.DRYING),
    "production:spoil_piece": _cast(Stage.DRYING),
    "production:strike_weighing": lambda s: [{"pk": s.cast(Stage.DRYING).weighings.first().pk}],
    "production:start_framing": lambda s: [{"reference": s.all_dry.reference}],
    "production:tick_frame": _by_reference(Stage.FRAMING),
    "production:make_ready": _by_reference(Stage.FRAMING),
    "production:reopen_frame": _by_reference(Stage.READY),
    "production:week": _week,
    "production:weekly_sheet": _week,
    "orders:price_list": _price_list,
    "orders:add_price": _price_list,
    "orders:drop_price_list": _price_list,
    "orders:change_price": _price,
    "orders:drop_price": _price,
    "orders:invoice_pdf": _invoice,
    "orders:credit_invoice": _invoice,
    "orders:order": _by_reference(*Stage),
    "orders:price_job": BOOKED,
    "orders:price_anew": BOOKED,
    "orders:choose_look": BOOKED,
    "orders:add_extra": BOOKED,
    "orders:add_reduction": BOOKED,
    "orders:drop_line": _line,
    "orders:take_payment": BOOKED,
    "orders:reverse_payment": _payment,
    "orders:pay_back": BOOKED,
    "orders:issue_invoice": BOOKED,
    "orders:release_on_account": BOOKED,
    "orders:hand_over": _by_reference(Stage.READY),
    "orders:call_off": BOOKED,
    "orders:make_link": BOOKED,
    "orders:revoke_link": lambda s: [{"pk": s.link.pk}],
    "follow:page": _link,
    "follow:choose_look": _link,
    "follow:withdraw_consent": lambda s: _link(s, pk=s.family.consents.first().pk),
    "follow:paper": lambda s: _link(s, pk=s.at(Stage.READY).order.invoices.get().pk),
    "follow:photo": lambda s: _link(s, photo_id=s.at(Stage.READY).photos.get().public_id),
    "follow:arrive": lambda s: [{"token": s.tokens[Stage.READY]}],
}


@dataclass(frozen=True)
class Address:
    name: str
    url: str
    takes: tuple[str, ...]


def addresses(studio=None):
    """Every address of the site as a list of Address, with the rows of `studio` in it.

    Without a studio only those that take no argument.

    Raises AssertionError for an address without a row, a row without an address, and an address
    without a name.
    """
    found, views = {}, {}
    for name, view, takes in _walk(get_resolver(), "", ()):
        assert views.setdefault(name, view) is view, f"Two pages are called {name}."
        found[name] = takes
    lost = [name for name, takes in found.items() if takes and name not in ROWS]
    assert not lost, f"Give these addresses a row in tests/addresses.py: {lost}"
    stale = [name for name in ROWS if name not in found]
    assert not stale, f"These rows of tests/addresses.py have no address: {stale}"
    return [
        Address(name, reverse(name, kwargs=arguments), takes)
        for name, takes in found.items()
        if studio or not takes
        for arguments in (ROWS[name](studio) if takes else [{}])
    ]


def _walk(resolver, space, takes):
    for pattern in resolver.url_patterns:
        mine = (*takes, *pattern.pattern.converters)
        if isinstance(pattern, URLResolver):
            if pattern.namespace != DJANGOS_OWN:
                below = f"{space}{pattern.namespace}:" if pattern.namespace else space
                yield from _walk(pattern, below, mine)
        else:
            assert isinstance(pattern, URLPattern)
            assert pattern.name, f"The address {pattern.pattern} has no name."
            yield f"{space}{pattern.name}", pattern.callback, mine


def look(client, url, **how):
    """The answer to a look at `url`, read to its end."""
    response = client.get(url, **how)
    if response.streaming:
        list(response)  # a photograph: at its end the client closes the file
    return response


def words_for(studio):
    """Something plausible for every form of the site, as one post: what a stranger might send."""
    child = studio.family.children.first()
    return {
        "key": str(uuid.uuid4()),
        "version": "1",
        "seen_version": "1",
        "seen": Stage.BOOKED,
        "why": "Because.",
        "label": "A kindness",
        "amount_minor": "5.00",
        "keep_minor": "0",
        "method": "cash",
        "received_on": timezone.localdate().isoformat(),
        "paid_on": timezone.localdate().isoformat(),
        "valid_from": (timezone.localdate() + timedelta(days=400)).isoformat(),
        "kind": "extra",
        "price": str(studio.price("extra").pk),
        "quantity": "1",
        "backing": str(studio.price("backing").pk),
        "finish": str(studio.price("finish").pk),
        "how": "collected",
        "days": "30",
        "mass_g": "300",
        "place": "1",
        "glazed": "yes",
        "step": "mounted",
        "done": "yes",
        "impression_whole": "yes",
        "outcome": "taken",
        "put_off": "leave",
        "purpose": "keep",
        "given_by": "Sam",
        "family": str(studio.family.pk),
        "pieces": [str(piece.pk) for piece in studio.at(Stage.CLAY_REST).pieces.all()],
        "plaster_g": "538",
        "water_g": "377",
        "wanted": [f"{child.pk}-{Limb.LEFT_FOOT}"],
        "on": (timezone.localdate() + timedelta(days=30)).isoformat(),
        "seen_on": (timezone.localdate() + timedelta(days=30)).isoformat(),
        "clock": "14:00",
        "minutes": "45",
        "first_name": "Bo",
        "born_on": "2026-08-01",
        "name": "Nobody",
        "contact_name": "Nobody",
        "phone": "07700 900789",
        "promised_on": "2027-01-05",
    }
