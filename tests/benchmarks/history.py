"""Invented years of a studio: sixty jobs in hand, and as many behind it as asked for.

    DATABASE_URL=… python -m tests.benchmarks.history JOBS

migrates the empty database, writes JOBS jobs and prints, as JSON, what a browser needs to look at
them. What is in hand and the last 200 jobs before are the same for any number, so that two
histories differ only in how long ago they began.
"""

import json
import sys
from datetime import UTC, datetime, time, timedelta
from math import exp
from random import Random

import django
from django.utils import timezone

IN_HAND = {"booked": 14, "clay_rest": 4, "casting": 4, "drying": 20, "framing": 8, "ready": 10}
# What has something to do at the bench in the week of the sheet.
ON_THE_SHEET = {"clay_rest": 8, "casting": 8, "drying": 24, "framing": 10, "ready": 10}
MONDAY = datetime(2026, 3, 2, 8, tzinfo=UTC)  # when the sheet is printed
RECENT = 200
YEARS = 20

# Days from the sitting to each stage.
REACHED = {
    "booked": -12.0,
    "clay_rest": 0.0,
    "casting": 0.3,
    "drying": 0.45,
    "framing": 9.0,
    "ready": 12.0,
    "handed_over": 15.0,
}
# A job in hand sat so many days ago: first and last of its stage.
SAT_AGO = {
    "clay_rest": (0.1, 1.2),
    "casting": (0.35, 0.8),
    "drying": (0.8, 8.8),
    "framing": (9.2, 12.5),
    "ready": (12.5, 17.0),
}
WEIGHED = (0.55, 2.0, 4.5, 7.5)  # days after the sitting, while it dries
FRESH_G, DRY_G, PER_DAY = 457.0, 320.0, 0.55
FIRST_NAMES = ("Ada", "Bela", "Ciaran", "Dilys", "Emeka", "Fenna", "Goran", "Hana", "Idris", "Juno")
ENDINGS = ("ford", "ley", "wick", "combe", "by", "stead", "mere", "field", "worth", "den")
BEGINNINGS = ("Ash", "Brack", "Cold", "Dun", "Elm", "Far", "Gos", "Hol", "Ivin", "Kel", "Lang")


class History:
    """Writes units, families and jobs; whatever happened to a job is written as far as it came."""

    def __init__(self):  # noqa: PLR0915 - imports, and one act after the other
        from bookings.consent import models as consent_models  # noqa: PLC0415 - after django.setup()
        from bookings.enquiries import models as enquiries_models  # noqa: PLC0415 - after django.setup()
        from bookings.photos import models as photos_models  # noqa: PLC0415 - after django.setup()
        from bookings.sittings import models as sittings_models  # noqa: PLC0415 - after django.setup()
        from orders.family_page import models as family_page_models  # noqa: PLC0415
        from orders.invoices import models as invoices_models  # noqa: PLC0415
        from orders.order import models as order_models  # noqa: PLC0415
        from orders.payments import models as payments_models  # noqa: PLC0415
        from production.casts import models as casts_models  # noqa: PLC0415
        from production.frames import models as frames_models  # noqa: PLC0415
        from studio.families import models as families_models  # noqa: PLC0415
        from studio.jobs import models as jobs_models  # noqa: PLC0415
        from tests.benchmarks.rows import Table  # noqa: PLC0415

        self.references = set()
        self.families = Table(families_models.Family)
        self.children = Table(families_models.Child)
        self.jobs = Table(jobs_models.Job)
        self.pieces = Table(jobs_models.Piece)
        self.events = Table(jobs_models.JobEvent)
        self.enquiries = Table(enquiries_models.Enquiry)
        self.consents = Table(consent_models.Consent)
        self.sittings = Table(sittings_models.Sitting)
        self.prints = Table(sittings_models.ClayPrint)
        self.photos = Table(photos_models.Photo)
        self.pours = Table(casts_models.Pour)
        self.casts = Table(casts_models.Cast)
        self.weighings = Table(casts_models.Weighing)
        self.frames = Table(frames_models.Frame)
        self.specifications = Table(frames_models.FrameSpecification)
        self.orders = Table(order_models.Order)
        self.lines = Table(order_models.OrderLine)
        self.invoices = Table(invoices_models.Invoice)
        self.payments = Table(payments_models.Payment)
        self.links = Table(family_page_models.FamilyLink)

    @property
    def tables(self):
        return [value for value in vars(self).values() if hasattr(value, "flush")]

    def studio(self, name, *, now):
        return Studio(self, name, now)


class Studio:
    """One unit of the history, and what is told of its jobs at `now`."""

    def __init__(self, history, name, now):
        from orders.invoices import invoice_content  # noqa: PLC0415 - after django.setup()
        from tests import makers  # noqa: PLC0415

        self.history, self.now = history, now
        self.unit = makers.a_unit(name, rack_places=200, payment_words="Sort code 00-00-00")
        self.owner = makers.owner_of(self.unit)
        prices = makers.prices(self.unit)
        self.price_list = prices.pk
        self.casts = {price.pieces: price for price in prices.prices.filter(kind="casts")}
        self.look = {kind: prices.prices.filter(kind=kind)[0] for kind in ("backing", "finish")}
        self.seller = invoice_content.Seller(
            self.unit.name,
            self.unit.trader_name,
            self.unit.address,
            self.unit.postcode,
            self.unit.phone,
            self.unit.email,
        )
        self.known = []  # families that may come again
        self.took_back = set()  # families that let nobody keep their photographs any longer
        self.rack = 0
        self.invoiced = 0

    def years(self, jobs):
        """So many jobs that ended, the oldest first."""
        for back in reversed(range(jobs)):
            rng = Random(back)  # noqa: S311 - the same history each time
            sat_at = self._morning(_days_back(back, jobs), rng)
            if rng.random() < 0.03:
                self._called_off(rng, sat_at)
            else:
                self.job("handed_over", sat_at, rng, on_account=back < 100 and back % 20 == 0)

    def in_hand(self, stages):
        """Jobs at these stages (how many of each); returns their keys by stage."""
        made = {}
        for stage, number in stages.items():
            for place in range(number):
                rng = Random(f"{stage} {place}")  # noqa: S311 - as above
                made.setdefault(stage, []).append(
                    self.job(stage, self._sat_at(stage, place, number, rng), rng)
                )
        return made

    def job(self, stage, sat_at, rng, *, on_account=False):
        """A job that came to `stage`; returns its reference and its link's token."""
        life = _Life(self, stage, sat_at, rng)
        life.book()
        if life.at_least("clay_rest"):
            life.sit()
        if life.at_least("casting"):
            life.cast()
        if life.at_least("framing"):
            life.frame()
        life.order(on_account=on_account)
        return life.reference, life.token

    def _called_off(self, rng, sat_at):
        life = _Life(self, "called_off", sat_at, rng)
        life.book()

    def _sat_at(self, stage, place, number, rng):
        if stage == "booked":
            return self._morning(-1 - place // 2, rng, hour=10 if place % 2 else 14)
        first, last = SAT_AGO[stage]
        days = first + (last - first) * (place + 0.5) / number
        return self.now - timedelta(days=days)

    def _morning(self, days_back, rng, hour=None):
        day = timezone.localdate(self.now) - timedelta(days=days_back)
        at = time(hour or rng.choice((9, 11, 13, 15)))
        return timezone.make_aware(datetime.combine(day, at))


class _Life:
    """One job being written."""

    def __init__(self, studio, stage, sat_at, rng):
        self.studio, self.rows, self.rng = studio, studio.history, rng
        self.stage, self.sat_at = stage, sat_at
        self.unit_id, self.by_id = studio.unit.pk, studio.owner.pk
        self.is_open = stage not in ("handed_over", "called_off")
        self.reference = self._draw()
        self.token = f"family-of-{self.reference}".ljust(43, "_")

    def at(self, stage, hours=0):
        return self.sat_at + timedelta(days=REACHED[stage], hours=hours)

    def at_least(self, stage):
        way = list(REACHED)
        return self.stage in way and way.index(self.stage) >= way.index(stage)

    def book(self):
        rows = self.rows
        self.family_id, child_id, self.first_name = self._family()
        limbs = ("left_hand", "right_foot", "right_hand", "left_foot")
        number = self.rng.choice((1, 2, 2, 2, 4))
        self.job_id = rows.jobs.add(
            unit_id=self.unit_id,
            family_id=self.family_id,
            reference=self.reference,
            stage=self.stage,
            stage_since=self.at("booked" if self.stage == "called_off" else self.stage),
            opened_at=self.at("booked"),
            promised_on=(self.sat_at + timedelta(days=14)).date(),
        )
        self.limbs = [limb.replace("_", " ") for limb in limbs[:number]]
        self.piece_ids = [
            rows.pieces.add(job_id=self.job_id, child_id=child_id, limb=limb)
            for limb in limbs[:number]
        ]
        self._event("open_job", "booked", hours=0)
        self._event("book_sitting", "booked", hours=0.01)
        state = "planned" if self.stage == "booked" else "done"
        self.sitting_id = rows.sittings.add(
            unit_id=self.unit_id,
            job_id=self.job_id,
            starts_at=self.sat_at,
            ends_at=self.sat_at + timedelta(minutes=45),
            state="cancelled" if self.stage == "called_off" else state,
            cancelled_why="They moved away." if self.stage == "called_off" else "",
        )
        for place, piece_id in enumerate(self.piece_ids):
            sat = self.at_least("clay_rest")
            rows.prints.add(
                sitting_id=self.sitting_id,
                piece_id=piece_id,
                outcome="taken" if sat else "planned",
                live=self.stage != "called_off",
                tries=1 if sat else 0,
                tray=str(place + 1) if sat else "",
                taken_at=self.sat_at if sat else None,
                length_mm=70 + self.job_id % 12 if sat and place % 2 else None,
            )
        if self.stage == "called_off":
            self._event("move", "called_off", before="booked", hours=24)
        self._link()

    def sit(self):
        self._event("move", "clay_rest", before="booked")

    def cast(self):
        rows, demoulded = self.rows, self.at_least("drying")
        pour_id = rows.pours.add(
            unit_id=self.unit_id,
            poured_at=self.at("casting"),
            consistency=70,
            plaster_g=269 * len(self.piece_ids),
            water_g=188 * len(self.piece_ids),
            foreseen_ml=280.0 * len(self.piece_ids),
            left_g=20 + self.job_id % 15 if self.job_id % 2 else None,
            by_id=self.by_id,
        )
        self._event("move", "casting", before="clay_rest")
        if demoulded:
            self._event("move", "drying", before="casting")
        weighings = self._weighings() if demoulded else []
        last_weighed_at, last_g = weighings[-1] if weighings else (None, None)
        for piece_id in self.piece_ids:
            cast_id = rows.casts.add(
                unit_id=self.unit_id,
                piece_id=piece_id,
                pour_id=pour_id,
                demoulded_at=self.at("drying") if demoulded else None,
                rack_place=self._rack_place() if self.stage == "drying" else None,
                last_weighed_at=last_weighed_at,
                last_g=last_g,
                dry_at=self.at("framing", hours=-20) if self.at_least("framing") else None,
            )
            for at, mass_g in weighings:
                rows.weighings.add(cast_id=cast_id, at=at, mass_g=mass_g, by_id=self.by_id)

    def frame(self):
        self._event("move", "framing", before="drying")
        done = self.at("framing", hours=5) if self.at_least("ready") else None
        self.rows.frames.add(
            job_id=self.job_id,
            started_at=self.at("framing"),
            mounted_at=self.at("framing", hours=1),
            closed_at=done,
            backed_at=done,
            sealed_at=done,
            checked_at=done,
        )
        if done is None:
            return
        self._event("move", "ready", before="framing")
        if self.family_id in self.studio.took_back:
            return
        self.rows.photos.add(
            unit_id=self.unit_id,
            job_id=self.job_id,
            kind="finished",
            file=f"photos/{self.reference}.jpg",
            width_px=1600,
            height_px=1200,
            taken_at=done,
            by_id=self.by_id,
        )

    def order(self, *, on_account):
        """A deposit when it is booked, the rest and the invoice when it goes home."""
        rows, price = self.rows, self.studio.casts[len(self.piece_ids)]
        home = self.stage == "handed_over"
        self.order_id = rows.orders.add(
            unit_id=self.unit_id,
            job_id=self.job_id,
            price_list_id=self.studio.price_list,
            settled=home and not on_account,
            released_at=self.at("handed_over") if on_account else None,
            released_why="They pay at the end of the month." if on_account else "",
        )
        rows.specifications.add(
            job_id=self.job_id,
            backing_id=self.studio.look["backing"].option_id,
            finish_id=self.studio.look["finish"].option_id,
        )
        for position, (price_id, label, amount_minor) in enumerate(
            (
                (price.pk, price.label, price.amount_minor),
                (self.studio.look["backing"].pk, "Backing: Chalk linen", 0),
                (self.studio.look["finish"].pk, "Finish: Waxed oak", 0),
            )
        ):
            rows.lines.add(
                order_id=self.order_id,
                price_id=price_id,
                label=label,
                unit_minor=amount_minor,
                position=position * 100,
            )
        deposit_minor = price.amount_minor // 4
        self._payment(deposit_minor, self.at("booked"), "card")
        if home:
            if not on_account:
                self._payment(
                    price.amount_minor - deposit_minor, self.at("handed_over"), "transfer"
                )
            self._invoice(price)
            self._event("move", "handed_over", before="ready")

    def _family(self):
        """The family, its youngest child and that one's name; two in five came before."""
        known, rng, rows = self.studio.known, self.rng, self.rows
        if len(known) > 20 and rng.random() < 0.4:
            family_id = known[-rng.randrange(1, min(len(known), 500))]
        else:
            family_id = self._new_family()
            known.append(family_id)
        first_name = rng.choice(FIRST_NAMES)
        born_on = (self.sat_at - timedelta(days=rng.randrange(90, 160))).date()
        child_id = rows.children.add(family_id=family_id, first_name=first_name, born_on=born_on)
        return family_id, child_id, first_name

    def _new_family(self):
        rng, asked_at = self.rng, self.at("booked") - timedelta(days=3)
        name = rng.choice(BEGINNINGS) + rng.choice(ENDINGS)
        contact = {
            "email": f"{name}{rng.randrange(100)}@example.com".lower(),
            "phone": f"07700 900{rng.randrange(1000):03}",
            "postcode": f"AA{rng.randrange(1, 100)} {rng.randrange(10)}ZZ",
        }
        family_id = self.rows.families.add(
            unit_id=self.unit_id,
            name=name,
            contact_name=f"Sam {name}",
            address=f"{rng.randrange(1, 90)} Quay Row\nAshmouth",
            added_at=asked_at,
            **contact,
        )
        self.rows.enquiries.add(
            unit_id=self.unit_id,
            received_at=asked_at,
            name=f"Sam {name}",
            words="Do you have a morning in the next weeks?",
            source="word",
            answer="family",
            answered_at=asked_at,
            family_id=family_id,
            **contact,
        )
        if took_back := rng.random() < 0.02:
            self.studio.took_back.add(family_id)
        self.rows.consents.add(
            family_id=family_id,
            purpose="keep",
            wording="We take photographs of the sitting and of the casts.",
            wording_version="2026-11-01",
            given_by=f"Sam {name}",
            given_at=self.at("booked"),
            withdrawn_at=self.sat_at if took_back else None,
            recorded_by_id=self.by_id,
        )
        return family_id

    def _weighings(self):
        """Time and grams of every weighing so far of one in hand, of the last of one long gone."""
        days = WEIGHED if self.is_open else WEIGHED[-1:]
        times = [(day, self.sat_at + timedelta(days=day)) for day in days]
        return [
            (at, round(DRY_G + (FRESH_G - DRY_G) * exp(-PER_DAY * (day - WEIGHED[0])), 1))
            for day, at in times
            if at < self.studio.now
        ]

    def _rack_place(self):
        self.studio.rack += 1
        return self.studio.rack

    def _payment(self, amount_minor, at, method):
        self.rows.payments.add(
            unit_id=self.unit_id,
            order_id=self.order_id,
            amount_minor=amount_minor,
            method=method,
            received_on=at.date(),
            by_id=self.by_id,
        )

    def _invoice(self, price):
        from orders.invoices import invoice_content  # noqa: PLC0415 - after django.setup()

        self.studio.invoiced += 1
        number, on = f"INV-{self.studio.invoiced:04}", self.at("handed_over").date()
        self.rows.invoices.add(
            unit_id=self.unit_id,
            order_id=self.order_id,
            kind="invoice",
            number=number,
            issued_on=on,
            supplied_on=on,
            total_minor=price.amount_minor,
            content=invoice_content.invoice(number, self._facts(price, on)),
            by_id=self.by_id,
        )

    def _facts(self, price, on):
        from orders.invoices import invoice_content  # noqa: PLC0415 - after django.setup()
        from orders.prices import vat  # noqa: PLC0415 - after django.setup()

        return invoice_content.Facts(
            currency="GBP",
            seller=self.studio.seller,
            customer=invoice_content.Customer("Sam Holwick", "9 Quay Row\nAshmouth", "AA1 1ZZ"),
            reference=self.reference,
            pieces=[f"{self.first_name}, {limb}" for limb in self.limbs],
            lines=[invoice_content.Sold(price.label, 1, price.amount_minor)],
            received=[],
            tax_points=[vat.TaxPoint(on, price.amount_minor, None)],
            issued_on=on,
            supplied_on=on,
            due_on=on + timedelta(days=14),
            payment_words="",
        )

    def _link(self):
        from orders.family_page import private_links  # noqa: PLC0415 - after django.setup()

        self.rows.links.add(
            job_id=self.job_id,
            token_sha256=private_links.digest(self.token),
            made_at=self.at("booked"),
            made_by_id=self.by_id,
            expires_at=self.sat_at + timedelta(days=private_links.USUAL_DAYS),
        )

    def _event(self, what, to_stage, *, before="", hours=0.0):
        at = self.at("booked" if to_stage == "called_off" else to_stage, hours=hours)
        self.rows.events.add(
            job_id=self.job_id,
            what=what,
            at=at,
            by_id=self.by_id,
            from_stage=before or to_stage if what != "open_job" else "",
            to_stage=to_stage,
        )

    def _draw(self):
        from studio import references  # noqa: PLC0415 - after django.setup()

        while (drawn := references.new_reference(self.rng.choice)) in self.rows.references:
            pass
        self.rows.references.add(drawn)
        return drawn


def _days_back(place, jobs):
    """When the `place`-th newest job that ended was sat for: eight a week, then over the years."""
    if place < RECENT:
        return 45 + round(place * 0.9)
    share = (place - RECENT) / max(1, jobs - RECENT)
    return 45 + round(RECENT * 0.9) + round(share * 365 * YEARS)


def write(jobs, now):
    """Fill the migrated, empty database; returns what a browser needs."""
    from orders.invoices.actions import INVOICE_PREFIX  # noqa: PLC0415 - after django.setup()
    from orders.invoices.models import NumberSeries  # noqa: PLC0415
    from production.casts.measures import store_calibrations  # noqa: PLC0415
    from production.planning.plan_runs import keep_planned  # noqa: PLC0415
    from tests.benchmarks.rows import quickly  # noqa: PLC0415

    history = History()
    studio = history.studio("Hollin Casts", now=now)
    with quickly(*history.tables):
        studio.years(jobs - sum(IN_HAND.values()))
        made = studio.in_hand(IN_HAND)
        # Units of their own, each for its week's sheet.
        sheets = [history.studio(f"Sheet of {jobs}", now=MONDAY) for jobs in (60, 120)]
        for times, on_sheet in enumerate(sheets, 1):
            on_sheet.in_hand({stage: number * times for stage, number in ON_THE_SHEET.items()})
    for each, now_there in ((studio, now), *((sheet, MONDAY) for sheet in sheets)):
        keep_planned(each.unit, now_there)
        store_calibrations(each.unit)
    NumberSeries.objects.create(unit=studio.unit, prefix=INVOICE_PREFIX, last=studio.invoiced)
    return _way_in(studio, *made["drying"][-1])


def _way_in(studio, reference, token):
    """The pages that are measured, and the cookies that open them."""
    from django.test import Client  # noqa: PLC0415 - after django.setup()
    from django.urls import reverse  # noqa: PLC0415

    from orders.family_page import private_links  # noqa: PLC0415
    from orders.family_page import views as family_page_views  # noqa: PLC0415
    from orders.family_page.models import FamilyLink  # noqa: PLC0415

    browser = Client()
    browser.force_login(studio.owner)
    link = FamilyLink.objects.get(token_sha256=private_links.digest(token))
    return {
        "log_in": f"sessionid={browser.cookies['sessionid'].value}",
        "follow": f"{family_page_views.COOKIE}={token}",
        "arrive": reverse("family_page:arrive", args=[token]),
        "pages": {
            "today": reverse("studio:today"),
            "bench": reverse("production:bench"),
            "diary": reverse("bookings:diary"),
            "families": reverse("studio:families"),
            "money": reverse("orders:money"),
            "job": reverse("studio:job", args=[reference]),
            "parents_page": reverse("family_page:page", args=[link.public_id]),
        },
    }


def main():
    from django.core.management import call_command  # noqa: PLC0415 - after django.setup()

    call_command("migrate", verbosity=0)
    sys.stdout.write(json.dumps(write(int(sys.argv[1]), timezone.now())))


if __name__ == "__main__":
    django.setup()
    main()
