"""What stands in the demo: every stage, what can go wrong, money, consents, nobody real; and the ways in."""

import io
import re
from datetime import timedelta

import pytest
from django.core.management import CommandError, call_command
from django.db.models import F, Max
from django.utils import timezone
from PIL import Image

from bookings.consent.models import Consent
from bookings.enquiries.models import Enquiry
from bookings.photos.models import Photo
from bookings.sittings.models import Sitting
from demo_data import files
from demo_data.loading import PASSWORD
from orders.balances.ageing import ageing
from orders.family_page.models import FamilyLink
from orders.invoices.batch import to_invoice
from orders.invoices.models import Invoice
from orders.order.models import Order
from orders.order.totals import balance_of
from orders.payments.models import Payment
from orders.prices.models import PriceList
from production.casts.models import Cast, Weighing
from production.frames import page as frames_page
from production.stores import stock_status
from studio.accounts.models import User
from studio.families.models import Child, Family
from studio.jobs.models import JobEvent
from studio.jobs.today import arrange_today
from studio.roles import Role
from studio.stages import Stage
from studio.web import panels
from tests.demo_data.conftest import WEDNESDAY, counts
from tests.makers import details

# Kept for drama: 01632 960000-960999 and 07700 900000-900999; area AA was never issued.
FOR_DRAMA = re.compile(r"01632 960\d{3}|07700 900\d{3}")
LIKE_A_PHONE = re.compile(r"0[1-9]\d{2,4} ?\d{3} ?\d{3}")
PEOPLE = ("marian@example.com", "jo@example.com", "office@example.com")
LINK = re.compile(r"http://127\.0\.0\.1:8123(/follow/\S+)")
NEVER_ISSUED = re.compile(r"AA[1-9]\d? \d[ABD-HJLNP-UW-Z]{2}")


def test_every_stage_has_its_jobs_and_each_came_there_by_its_events(loaded):
    at = {stage: loaded.jobs.at(stage).count() for stage in Stage}
    assert all(at.values())
    assert sum(at.values()) >= 55
    assert at[Stage.DRYING] >= 10
    assert loaded.families.count() >= 38
    for job in loaded.jobs.all():
        moves = list(job.events.moves())
        assert (moves[-1].to_stage if moves else Stage.BOOKED) == job.stage


def test_every_event_lies_between_the_opening_of_its_job_and_now(loaded):
    assert JobEvent.objects.filter(at__gt=F("job__opened_at")).exists()
    assert not JobEvent.objects.filter(at__lt=F("job__opened_at")).exists()
    assert not JobEvent.objects.filter(at__gt=WEDNESDAY).exists()


def test_the_diary_has_sittings_today_tomorrow_and_next_week(loaded):
    days = {sitting.starts_at.date() - WEDNESDAY.date() for sitting in loaded.sittings.planned()}
    assert {timedelta(days=0), timedelta(days=1), timedelta(days=7)} <= days


def test_today_is_full_of_things_to_do_three_of_them_late_and_says_why(loaded):
    items = panels.today_items(loaded, Role.OWNER, WEDNESDAY)
    day = arrange_today(items, WEDNESDAY)
    assert [item.title.split()[0] for item in day.late] == ["Pour", "Frame", "Tell"]
    assert all("Late: " in item.why_late for item in day.late)
    assert len(day.sittings) == 2
    work = {item.title.split()[0] for item in day.bench}
    assert work == {"Pour", "Demould", "Weigh", "Frame"}
    assert len(day.families) >= 2
    assert day.owed_minor > 0


def test_the_bench_shows_what_can_go_wrong(loaded):
    assert Cast.objects.filter(spoiled_at__isnull=False).count() >= 2
    assert Cast.objects.exclude(dry_why="").exists()
    assert Weighing.objects.exclude(heavier_why="").exists()
    assert loaded.jobs.filter(split_from__isnull=False).exists()
    assert loaded.jobs.late_on(WEDNESDAY.date()).filter(events__what="promise").exists()
    assert Child.objects.filter(due_on__isnull=False).exists()
    drying = Cast.objects.filter(piece__job__stage=Stage.DRYING)
    assert drying.damp().count() >= 10
    assert drying.filter(dry_at__isnull=False, dry_why="").exists()
    limit = WEDNESDAY - timedelta(hours=loaded.clay_rest_hours)
    assert loaded.jobs.at(Stage.CLAY_REST).filter(stage_since__lt=limit).count() == 1


def test_frames_that_are_begun_are_cut_and_the_stores_know_what_the_others_will_take(loaded):
    assert not loaded.jobs.at(Stage.FRAMING).filter(cut_frame=None).exists()
    page = frames_page.frames_page(loaded, WEDNESDAY)
    assert len(page.frames) >= 10
    assert page.rack
    assert {each.what for each in page.uses} == {"rails", "boards", "glass"}
    cut = [each for each in stock_status.stock_statuses(loaded, WEDNESDAY) if each.is_cut]
    assert [each.material.name for each in cut] == [
        "Oak moulding", "Backing board", "Float glass, 2 mm",
    ]  # fmt: skip
    assert all(each.outlook.order_by for each in cut)


def test_a_lost_print_is_told_once_and_sat_for_again(loaded):
    lost = JobEvent.objects.get(what="lose_print")
    assert details(lost).count("Mabel, right foot") == 1
    assert lost.job.stage == Stage.BOOKED
    assert lost.job.sittings.planned().exists()


def test_a_child_is_old_enough_for_its_sitting_or_a_reason_is_written(loaded):
    born = Max("prints__piece__child__born_on")
    limit = timedelta(weeks=loaded.earliest_weeks)
    young = {
        bool(sitting.young_why)
        for sitting in Sitting.objects.annotate(born=born)
        if sitting.starts_at.date() - sitting.born < limit
    }
    assert young == {True}


def test_money_is_owed_paid_in_part_reversed_and_credited(loaded):
    assert PriceList.objects.count() == 2
    assert len({order.price_list_id for order in loaded.orders.all()}) == 2
    assert loaded.orders.owed_now().filter(balance__gt=0, paid__gt=0).exists()
    assert Invoice.objects.filter(kind="credit").count() == 1
    assert Payment.objects.filter(reverses__isnull=False).exists()
    assert Order.objects.exclude(released_why="").exists()
    gone = loaded.orders.filter(job__stage=Stage.HANDED_OVER)
    owing = [order for order in gone if balance_of(order)]
    assert [order.released_why for order in owing] == ["Her aunt pays for it by the month's end."]
    (late,) = [row for row in ageing(loaded, WEDNESDAY.date()).rows if row.days_late > 0]
    assert late.reminded_at
    assert to_invoice(loaded, WEDNESDAY.date()).count() == 2


def test_invoices_are_numbered_in_the_order_of_their_days(loaded):
    numbers = [paper.number for paper in Invoice.objects.filter(kind="invoice").order_by("pk")]
    days = [paper.issued_on for paper in Invoice.objects.order_by("pk")]
    assert numbers == [f"INV-{number:04}" for number in range(1, len(numbers) + 1)]
    assert days == sorted(days)


def test_consents_were_given_and_some_withdrawn_and_photos_rest_on_them(loaded):
    assert Consent.objects.in_force().filter(purpose="show").exists()
    assert Consent.objects.filter(purpose="keep", withdrawn_at__isnull=False).exists()
    sat = Family.objects.filter(jobs__sittings__state="done")
    assert set(sat) == set(sat.filter(consents__purpose="make"))
    assert not Consent.objects.filter(purpose="make", withdrawn_at__isnull=False).exists()
    assert Photo.objects.count() >= 30
    for photo in Photo.objects.all():
        kept = photo.job.family.consents.filter(purpose="keep", given_at__lte=photo.taken_at)
        assert kept.exists()
        with photo.file.open() as file:
            assert Image.open(file).size == (photo.width_px, photo.height_px)
        with photo.thumb.open() as file:
            assert Image.open(file).size == photo.thumb_size


def test_nobody_in_it_is_real(loaded):
    people = [*Family.objects.all(), *Enquiry.objects.all(), loaded]
    for phone in (person.phone for person in people if person.phone):
        assert FOR_DRAMA.fullmatch(phone), phone
    for email in (person.email for person in [*people, *User.objects.all()] if person.email):
        assert email.endswith("@example.com"), email
    for postcode in (person.postcode for person in people if person.postcode):
        assert NEVER_ISSUED.fullmatch(postcode), postcode
    for path in files.FOLDER.glob("*.[ct][so][vm]*"):
        for phone in LIKE_A_PHONE.findall(path.read_text(encoding="utf-8")):
            assert FOR_DRAMA.fullmatch(phone), f"{path.name}: {phone}"


def test_loading_again_is_refused_and_changes_nothing(loaded):
    before = counts()
    with pytest.raises(CommandError, match="already a unit here: nothing was loaded"):
        call_command("load_demo", stdout=io.StringIO())
    assert counts() == before


def welcome():
    out = io.StringIO()
    call_command("welcome", port=8123, stdout=out)
    return out.getvalue()


def test_the_welcome_names_the_address_the_log_ins_and_how_to_begin_without_the_demo(loaded):
    said = welcome()
    assert "http://127.0.0.1:8123/\n" in said
    assert all(email in said for email in PEOPLE)
    assert PASSWORD in said
    assert "CASTSTEAD_DEMO=no" in said


def test_its_log_ins_open(loaded, client):
    for email in PEOPLE:
        assert client.login(username=email, password=PASSWORD)


def test_its_link_opens_and_stays_the_same_while_it_does(loaded, client):
    said = welcome()
    link = LINK.search(said)[1]
    arrived = client.get(link, secure=True)
    assert arrived.status_code == 303
    assert client.get(arrived["Location"], secure=True).status_code == 200
    assert welcome() == said
    FamilyLink.objects.update(revoked_at=WEDNESDAY)
    assert LINK.search(welcome())[1] != link


def test_a_demo_that_is_months_old_still_has_a_link_to_open(loaded, monkeypatch):
    monkeypatch.setattr(timezone, "now", lambda: WEDNESDAY + timedelta(days=120))
    assert LINK.search(welcome())


def test_the_kept_link_is_readable_by_its_owner_alone(loaded, settings):
    welcome()
    assert (settings.MEDIA_ROOT / "demo_link").stat().st_mode & 0o777 == 0o600


def test_it_is_silent_about_log_ins_that_do_not_work(loaded):
    for user in User.objects.all():
        user.set_password("another-one-of-ours")
        user.save()
    said = welcome()
    assert PASSWORD not in said
    assert not any(email in said for email in PEOPLE)
    assert "/follow/" not in said
