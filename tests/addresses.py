"""Every address of the site, and a small studio that has something at each of them.

The addresses are read from the site itself. One with arguments needs a row in `ROWS`; an address
without a row is an error, so a new page cannot stay unwatched.
"""

import io
import uuid
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import transaction
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from django.utils import timezone

from orders.bank.actions import read_statement, set_columns, take_statement
from orders.bank.bank_files import Columns
from orders.books.actions import set_vat_threshold
from orders.books.ledger import tax_year
from orders.family_page.private_links import make_link
from orders.invoices.actions import credit_invoice, issue_invoice
from orders.order.actions import add_reduction
from orders.payments.actions import release_on_account, take_payment
from orders.quotes.actions import accept_quote, decline_quote
from orders.receipts.actions import give_receipt
from orders.royalty.actions import send_return, set_royalty_terms
from orders.royalty.drafts import draft_return
from orders.vouchers.actions import pay_by_voucher, sell_voucher
from studio.accounts.models import Unit
from studio.families.models import Family
from studio.jobs.models import Job
from studio.limbs import Limb
from studio.stages import Stage
from studio.tablet.actions import keep_entry
from studio.tablet.entries import Entry
from studio.work.models import Work
from studio.work.queue import begin_work
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
        return self.at(Stage.READY).family_links.get()

    @property
    def entry(self):
        return self.unit.tablet_entries.get()

    @property
    def plaster(self):
        return self.unit.materials.get(used_at="pour")

    @property
    def coming(self):
        from production.stock.models import Purchase  # noqa: PLC0415 - makers serve apps one by one

        return Purchase.objects.filter(material__unit=self.unit).order_by("pk")

    def cast(self, stage):
        return self.unit.casts.filter(piece__job=self.at(stage)).first()

    def price(self, kind):
        return self.order.price_list.prices.filter(kind=kind).last()


@transaction.atomic  # what is computed after a commit is computed once, not after every act
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
    _fill_the_shelf(unit, by, now)
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


def _fill_the_shelf(unit, by, now):
    """Something of each kind, a lot that the work takes of, one order on its way and one late."""
    from production.stores import actions as stores  # noqa: PLC0415 - makers serve apps one by one

    today = timezone.localdate(now)
    for number, material in enumerate(stores.add_usual_materials(unit)):
        received_on = today - timedelta(days=100)
        stores.receive(
            material,
            quantity=material.pack,
            cost_minor=2199,
            received_on=received_on,
            best_before=received_on + timedelta(days=90) if number < 2 else None,
            label="the top shelf, behind the jars",
            by=by,
            at=now - timedelta(days=100),
            key=uuid.uuid4(),
        )
        if number in (2, 3):
            stores.order_material(
                material,
                quantity=2 * material.pack,
                cost_minor=4398,
                ordered_on=today - timedelta(days=9),
                expected_on=today + timedelta(days=5 if number == 2 else -1),
                by=by,
                key=uuid.uuid4(),
            )


A_PLASTER = {
    "name": "Fine casting plaster",
    "consistency": 70,
    "density_g_per_ml": 2.7,
    "purity_percent": 98,
    "working_minutes": 12,
    "set_minutes": 32,
    "usual": False,
}


def _furnish(studio, by, now):
    from production.workshop import actions as workshop  # noqa: PLC0415 - makers serve apps one by one

    def who():
        return {"by": by, "at": now, "key": uuid.uuid4()}

    workshop.add_plaster(studio.unit, facts=A_PLASTER)
    workshop.add_plaster(studio.unit, facts={**A_PLASTER, "name": "Dental stone"})
    workshop.read_room(studio.unit, temperature_c=19.5, humidity_percent=54, **who())
    workshop.measure_mould(
        studio.at(Stage.CLAY_REST).pieces.first(),
        outline="oval",
        length_mm=118,
        width_mm=96,
        depth_mm=19,
        **who(),
    )
    _cut_rails(studio, by, now)


def _fill(studio, by, now):  # noqa: PLR0915 - one act after the other
    from bookings.consent import actions as consent_actions  # noqa: PLC0415 - makers serve apps one by one
    from bookings.diary import actions as diary_actions  # noqa: PLC0415 - makers serve apps one by one
    from bookings.enquiries import actions as enquiries_actions  # noqa: PLC0415 - makers serve apps one by one
    from bookings.photos import actions as photos_actions  # noqa: PLC0415 - makers serve apps one by one
    from bookings.photos import cleaning  # noqa: PLC0415
    from production.bench import weighing  # noqa: PLC0415

    def who(at=now):
        return {"by": by, "at": at, "key": uuid.uuid4()}

    _say_on_a_tablet(studio, by, now)
    _work(studio, by, now)
    _habits_of_the_bench(studio, by, now)
    _furnish(studio, by, now)
    for purpose in ("keep", "show"):
        consent_actions.give_consent(studio.family, purpose=purpose, given_by="Sam", **who())
    diary_actions.cancel_sitting(
        studio.undated.sittings.planned().get(), why="Bo has a cold.", seen_version=1, **who()
    )
    enquiries_actions.take_enquiry(
        studio.unit,
        facts={"name": "Robin Weatherall", "phone": "07700 900456", "source": "phone"},
        at=now - timedelta(days=3),
        key=uuid.uuid4(),
    )
    for stage in (Stage.BOOKED, Stage.DRYING, Stage.READY):
        job = studio.at(stage)
        if stage != Stage.READY:  # whose family is `studio.family`
            consent_actions.give_consent(job.family, purpose="keep", given_by="Sam", **who())
        clean = cleaning.clean(io.BytesIO(makers.a_jpeg()))
        photos_actions.add_photo(
            job, clean=clean, kind="finished", piece=job.pieces.first(), **who()
        )
    for days, mass_g in ((1, 457.0), (3, 380.5)):
        weighing.weigh(
            studio.cast(Stage.DRYING), mass_g=mass_g, **who(now - timedelta(days=9 - days))
        )
    for cast in studio.unit.casts.filter(piece__job=studio.all_dry):
        weighing.release_dry(cast, why="Rang like a bell.", **who())
    for stage, job in studio.jobs.items():
        _, studio.tokens[stage] = make_link(job, by=by, at=now)
    add_reduction(studio.order, label="A friend of the house", amount_minor=500, **who())
    take_payment(
        studio.order,
        amount_minor=5000,
        method="transfer",
        received_on=timezone.localdate(now),
        **who(),
    )
    give_receipt(studio.order.payments.get(), **who())
    set_vat_threshold(
        studio.unit,
        valid_from=timezone.localdate(now) - timedelta(days=400),
        facts={"register_minor": 90_000_00, "leave_minor": 88_000_00, "warn_percent": 80},
    )
    _answers(studio, by, now)
    issue_invoice(studio.at(Stage.READY).order, **who())
    # May go home unpaid: it can be paid and handed over from the same page.
    release_on_account(studio.at(Stage.READY).order, why="Sam pays on Friday.", **who())
    _books(studio, by, now)
    credited = issue_invoice(studio.at(Stage.DRYING).order, **who())
    credit_invoice(credited, why="The wrong address.", **who())


def _answers(studio, by, now):
    """One family ordered on its own page, another says no to its price."""

    from orders.quotes.quotation import offer_of  # noqa: PLC0415

    def said(stage):
        order, today = studio.at(stage).order, timezone.localdate(now)
        return order, {
            "fingerprint": offer_of(order, today).fingerprint,
            "at": now,
            "key": uuid.uuid4(),
        }

    order, seen = said(Stage.READY)
    accept_quote(order, method="link", by=None, **seen)
    order, seen = said(Stage.DRYING)
    decline_quote(order, words="Only the hand, and without the plate, please.", **seen)


def _cut_rails(studio, by, now):
    """A range of frames, a cutting behind us, and offcuts in the rack."""
    makers.frame_range(studio.unit)
    makers.cut(studio.at(Stage.FRAMING), by=by, at=now)


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


def _habits_of_the_bench(studio, by, now):
    """Days off, and a reason of the unit's own for what spoils."""
    from production.spoilage import actions as spoiled  # noqa: PLC0415
    from production.working_week import actions as working_week_actions  # noqa: PLC0415 - makers serve apps one by one

    today = timezone.localdate(now)
    spoiled.add_spoil_reason(studio.unit, how="break", words="Lifted too early", from_on=today)
    working_week_actions.add_other_days(
        studio.unit,
        first_on=today + timedelta(days=40),
        last_on=today + timedelta(days=47),
        why="The seaside",
        by=by,
        at=now,
        key=uuid.uuid4(),
    )


def _work(studio, by, now):
    """Long work in every state."""
    for state in Work.State:
        work = begin_work(
            studio.unit,
            "weekly_sheet",
            title=f"A sheet, {state.label.lower()}",
            facts={"week": f"{timezone.localdate(now):%G-W%V}"},
            by=by,
            at=now,
            key=uuid.uuid4(),
        )
        facts = {"state": state, "attempts": 1, "started_at": now, "total": 2, "done": 1}
        if state == Work.State.DONE:
            file = default_storage.save("work/a-sheet", ContentFile(b"%PDF-1.7"))
            facts |= {"finished_at": now, "words": "Ready.", "file": file, "file_name": "a.pdf"}
            facts["content_type"] = "application/pdf"
        if state == Work.State.FAILED:
            facts |= {"finished_at": now, "error": "It broke off 3 times and was left."}
        if state != Work.State.WAITING:
            Work.objects.filter(pk=work.pk).update(**facts)


BANK_CSV = (
    "Date,Payer,Description,Amount\n"
    "02/11/2026,R WEATHERALL-LONGNAME,thank you so much for everything,81.00\n"
    "03/11/2026,KILN YARD,plaster,-54.20\n"
)


def _books(studio, by, now):
    """A bank's file, read and unread; vouchers, new and used; royalty terms and a return."""

    def statement(name, text):
        return take_statement(studio.unit, name=name, data=text.encode(), by=by, at=now)

    read = statement("november.csv", BANK_CSV)
    set_columns(
        studio.unit,
        headings=["Date", "Payer", "Description", "Amount"],
        columns=Columns(booked_on="Date", words="Description", amount="Amount", name="Payer"),
    )
    read_statement(read)
    statement("another-bank.csv", BANK_CSV.replace("Payer", "Who"))
    read_statement(statement("broken.ofx", "<OFX><STMTTRN>"))
    today = timezone.localdate(now)
    facts = {
        "value_minor": 10000,
        "price_minor": 10000,
        "method": "card",
        "buyer": "Grandmother Featherstone-Abercrombie",
        "for_whom": "Wilhelmina-Josephine",
        "words": "For two small hands.",
        "expires_on": today + timedelta(days=700),
        "taxed_when_sold": False,
    }
    for used in (True, False):
        voucher = sell_voucher(studio.unit, facts=facts, by=by, at=now, key=uuid.uuid4())
        if used:
            pay_by_voucher(
                studio.at(Stage.FRAMING).order,
                code=voucher.code,
                amount_minor=4000,
                by=by,
                at=now,
                key=uuid.uuid4(),
            )
    set_royalty_terms(
        studio.unit,
        facts={
            "valid_from": (today.replace(day=1) - timedelta(days=40)).replace(day=1),
            "royalty_percent": Decimal(8),
            "levy_percent": Decimal(2),
            "minimum_minor": 2500,
            "vat_percent": Decimal(20),
            "basis": "received",
            "voucher_at": "use",
            "every_months": 1,
        },
    )
    take_payment(
        studio.at(Stage.FRAMING).order,
        amount_minor=2000,
        method="cash",
        received_on=draft_return(studio.unit, today).last_on,
        by=by,
        at=now,
        key=uuid.uuid4(),
    )
    draft = draft_return(studio.unit, today)
    send_return(studio.unit, last_on=draft.last_on, by=by, at=now)


def _statement(studio):
    return [{"pk": each.pk} for each in studio.unit.statements.all()]


def _bank_line(studio):
    return [{"pk": studio.unit.statement_lines.get().pk}]


def _voucher(studio):
    return [{"code": each.code} for each in studio.unit.vouchers.all()]


def _return(studio):
    return [{"pk": studio.unit.royalty_returns.get().pk}]


def _year(studio):
    return [{"year": tax_year(timezone.localdate())[0].year}]


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


def _material(studio):
    """The plaster, of which the pours took, and what is on its way."""
    return [{"pk": studio.plaster.pk}, {"pk": studio.coming[0].material_id}]


def _lot(studio):
    return [{"pk": studio.plaster.lots.get().pk}]


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


def _cutting(studio):
    return [{"pk": studio.unit.cuttings.get().pk}]


def _offcut(studio):
    return [{"pk": studio.unit.offcuts.filter(gone_at=None).first().pk}]


def _moulding(studio):
    return [{"pk": studio.unit.mouldings.first().pk}]


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
    "studio:work": lambda s: [{"pk": work.pk} for work in s.unit.works.all()],
    "studio:work_file": lambda s: [{"pk": s.unit.works.get(state="done").pk}],
    "studio:retry_work": lambda s: [{"pk": s.unit.works.get(state="failed").pk}],
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
    "bookings:log_print": lambda s: [{"pk": s.sitting.prints.first().pk}],
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
    "production:end_spoil_reason": lambda s: [{"pk": s.unit.spoil_reasons.get().pk}],
    "production:pin_step": _by_reference(Stage.DRYING),
    "production:unpin_step": _by_reference(Stage.DRYING),
    "production:send_by_courier": _by_reference(Stage.DRYING),
    "production:drop_other_days": lambda s: [{"pk": s.unit.other_days.get().pk}],
    "production:material": _material,
    "production:edit_material": _material,
    "production:retire_material": _material,
    "production:bring_back_material": _material,
    "production:receive": _material,
    "production:use_by_hand": _material,
    "production:order_material": _material,
    "production:write_off": _lot,
    "production:adjust_lot": _lot,
    "production:correct_cost": _lot,
    "production:close_purchase": lambda s: [{"pk": s.coming[0].pk}],
    "production:measure_mould": lambda s: [
        {"pk": s.at(Stage.CLAY_REST).pieces.first().pk},
        {"pk": s.at(Stage.DRYING).pieces.first().pk},
    ],
    "production:edit_plaster": lambda s: [{"pk": each.pk} for each in s.unit.plasters.all()],
    "production:put_plaster_away": lambda s: [{"pk": s.unit.plasters.get(usual=False).pk}],
    "production:choose_frame": _by_reference(Stage.DRYING, Stage.READY),
    "production:cutting": _cutting,
    "production:offcut_labels": _cutting,
    "production:offcut_label": _offcut,
    "production:throw_away_offcut": _offcut,
    "production:edit_moulding": _moulding,
    "production:retire_moulding": _moulding,
    "production:drop_frame_size": lambda s: [{"pk": s.unit.frame_sizes.first().pk}],
    "production:week": _week,
    "production:weekly_sheet": _week,
    "production:print_week": _week,
    "orders:price_list": _price_list,
    "orders:add_price": _price_list,
    "orders:drop_price_list": _price_list,
    "orders:change_price": _price,
    "orders:set_bands": lambda s: [{"pk": s.price("finish").pk}],
    "orders:drop_price": _price,
    "orders:invoice_pdf": _invoice,
    "orders:credit_invoice": _invoice,
    "orders:credit_part": _invoice,
    "orders:account": _family,
    "orders:account_pdf": _family,
    "orders:receipt_pdf": lambda s: [{"number": s.unit.receipts.get().number}],
    "orders:reminder": _by_reference(Stage.READY, Stage.BOOKED),
    "orders:note_reminder": _by_reference(Stage.READY),
    "orders:give_receipt": _payment,
    "orders:order": _by_reference(*Stage),
    "orders:confirmation": BOOKED,
    "orders:price_job": BOOKED,
    "orders:reprice": BOOKED,
    "orders:choose_look": BOOKED,
    "orders:add_extra": BOOKED,
    "orders:add_delivery": BOOKED,
    "orders:add_discount": BOOKED,
    "orders:accept_quote": BOOKED,
    "orders:note_answer": _by_reference(Stage.DRYING),
    "orders:quote_pdf": lambda s: [
        {"reference": s.at(Stage.READY).reference, "pk": s.unit.quotes.get().pk}
    ],
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
    "orders:statement": _statement,
    "orders:set_columns": _statement,
    "orders:drop_statement": _statement,
    "orders:post_line": _bank_line,
    "orders:set_aside_line": _bank_line,
    "orders:put_line_back": _bank_line,
    "orders:voucher": _voucher,
    "orders:cancel_voucher": _voucher,
    "orders:voucher_card": _voucher,
    "orders:pay_by_voucher": BOOKED,
    "orders:write_effort": BOOKED,
    "orders:royalty_return": _return,
    "orders:royalty_return_pdf": _return,
    "orders:royalty_return_csv": _return,
    "orders:day_book_of": _year,
    "orders:day_book_csv": _year,
    "orders:day_book_json": _year,
    "orders:revoke_link": lambda s: [{"pk": s.link.pk}],
    "family_page:page": _link,
    "family_page:confirmation": _link,
    "family_page:choose_look": _link,
    "family_page:accept_quote": _link,
    "family_page:decline_quote": _link,
    "family_page:quote_paper": lambda s: _link(s, pk=s.unit.quotes.get().pk),
    "family_page:withdraw_consent": lambda s: _link(s, pk=s.family.consents.first().pk),
    "family_page:paper": lambda s: _link(s, pk=s.at(Stage.READY).order.invoices.get().pk),
    "family_page:photo": lambda s: _link(s, photo_id=s.at(Stage.READY).photos.get().public_id),
    "family_page:arrive": lambda s: [{"token": s.tokens[Stage.READY]}],
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
        "print_whole": "yes",
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
        "buyer": "Nobody",
        "value_minor": "50.00",
        "expires_on": "2030-01-05",
        "code": studio.unit.vouchers.latest("pk").code,
        "reference": studio.at(Stage.BOOKED).reference,
        "royalty_percent": "8",
        "levy_percent": "2",
        "basis": "invoiced",
        "voucher_at": "use",
        "every_months": "1",
        "last_on": "2027-01-31",
        "used_at": "hand",
        "measure": "g",
        "pack": "5 kg",
        "left": "1",
        "what": "scrapped",
        "ordered_on": timezone.localdate().isoformat(),
        "expected_on": timezone.localdate().isoformat(),
        "cost_minor": "9.00",
    }
