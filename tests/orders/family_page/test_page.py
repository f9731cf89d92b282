"""The family's own page: what it shows at each stage, what it lets a family do, what it never tells."""

import io
import re
import uuid
from datetime import timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from django.conf import settings as django_settings
from django.core.files.base import ContentFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from django.utils.html import escape
from pypdf import PdfReader

from bookings.consent import actions as consent_actions
from bookings.consent.models import Consent
from bookings.photos.models import Photo
from orders.family_page.family_view import family_page
from orders.invoices.actions import credit_invoice, issue_invoice
from orders.order.actions import add_extra, price_job
from orders.order_page.actions import call_off
from orders.payments.actions import reverse_payment, take_payment
from production.bench import actions as bench_actions
from production.bench import framing
from production.casts.models import Cast
from studio import units
from studio.accounts.models import Unit
from studio.families.models import Child
from studio.jobs import actions as jobs_actions
from studio.jobs.models import Job
from studio.stages import Stage
from tests import makers
from tests.orders.family_page.following import a_link, follow, rows_written

pytestmark = pytest.mark.django_db

MOST_BYTES = 108_000  # 5 % of the median page of the web, 2,164 kB (HTTP Archive 2025)


def words_of(answer):
    bare = re.sub(r"<(svg|title)\b.*?</\1>|<[^>]+>", " ", answer.content.decode(), flags=re.DOTALL)
    return " ".join(bare.split())


def read(job):
    browser = follow(job)
    answer = browser.get(browser.home)
    assert answer.status_code == 200
    return words_of(answer)


def press(job, by=None):
    return {"by": by or makers.owner_of(job.unit), "at": timezone.now(), "key": uuid.uuid4()}


def consent(job, purpose="keep"):
    return consent_actions.give_consent(
        job.family, purpose=purpose, given_by="Sam Okafor", **press(job)
    )


def a_photo(job, kind="finished"):
    return Photo.objects.create(
        unit=job.unit,
        job=job,
        kind=kind,
        file=ContentFile(makers.a_jpeg(), "frame.jpg"),
        width_px=640,
        height_px=480,
        taken_at=timezone.now(),
        by=makers.owner_of(job.unit),
    )


def look_of(job, backing="Deep blue felt", finish="Limed oak", **more):
    prices = {price.label: str(price.pk) for price in job.order.price_list.prices.all()}
    return {
        "backing": prices[backing],
        "finish": prices[finish],
        "version": job.order.frame.version,
        "key": str(uuid.uuid4()),
        **more,
    }


def choose(browser, sent):
    return browser.post(f"{browser.home}look/", sent)


@pytest.mark.parametrize(
    ("stage", "expected"),
    [
        (Stage.BOOKED, "The sitting was on"),
        (Stage.CLAY_REST, "In the clay The prints rest in the clay"),
        (Stage.CASTING, "In plaster The plaster is poured"),
        (Stage.DRYING, "Drying: about 1 more day"),
        (Stage.FRAMING, "Being framed The casts are dry."),
        (Stage.READY, "Ready to come home"),
        (Stage.HANDED_OVER, "Home since"),
        (Stage.CALLED_OFF, "Called off on"),
    ],
)
def test_each_stage_in_plain_words_and_nothing_private(unit, stage, expected):
    family = makers.a_family(
        unit, name="Quillfeather", postcode="AA1 1AA", note="The key is under the pot."
    )
    job = makers.job_at(stage, unit, family=family)
    browser = follow(job)
    page = words_of(browser.get(browser.home))
    assert expected in page
    assert "Ada’s casts" in page
    assert job.display_reference in page
    private = [
        "Quillfeather",
        "Quay Row",
        family.postcode,
        "key is under",
        "07700 900123",
        r"\b457\b",
        r"\b319",
        *[code for code in Stage.values if "_" in code],
    ]
    told = [secret for secret in private if re.search(secret, page, re.IGNORECASE)]
    assert told == []


def test_the_sitting_to_come_has_its_day_time_and_place(unit):
    job = makers.a_job(unit)
    sitting = job.sittings.get()
    starts_at = timezone.localtime(sitting.starts_at)
    page = read(job)
    assert f"at {starts_at:%H:%M}" in page
    assert units.day(starts_at.date()) in page
    assert "at your home" in page


def test_times_are_those_of_the_studios_own_place(unit, stranger):
    Unit.objects.filter(pk=unit.pk).update(time_zone="Atlantic/Cape_Verde")  # all year behind
    job = makers.a_job(
        unit, starts_at=timezone.now().replace(hour=12, minute=0) + timedelta(days=9)
    )
    starts_at = job.sittings.get().starts_at.astimezone(ZoneInfo("Atlantic/Cape_Verde"))
    assert starts_at.hour != 12
    browser = follow(job, stranger)  # whose own studio lies in London
    assert f"at {starts_at:%H:%M}" in words_of(browser.get(browser.home))


def test_a_sitting_elsewhere_keeps_its_address_off_the_page(unit):
    job = makers.a_job(unit)
    job.sittings.update(place="elsewhere", place_words="12 Grandmother Lane")
    page = read(job)
    assert "at the place we agreed" in page
    assert "Grandmother" not in page


def test_several_children_by_first_name(unit):
    family = makers.a_family(unit, children=("Ada", "Tom"))
    job = makers.a_job(unit, family=family)
    tom = family.children.get(first_name="Tom")
    job.pieces.filter(limb="right_hand").update(child=tom)
    page = read(job)
    assert "Ada and Tom’s casts" in page
    assert "Ada: left hand; Tom: right hand" in page


def test_before_any_price_or_sitting(unit):
    job = jobs_actions.open_job(
        makers.a_family(unit),
        wanted=[(Child.objects.get(), "left_hand")],
        promised_on=None,
        **press(makers.a_job(makers.a_unit(name="Other"))),
    )
    page = read(job)
    assert "No price yet" in page
    assert "No day for the sitting yet" in page
    assert "No day promised yet" in page
    assert "You have not agreed to any photographs" in page


def probably_dry(casts, *, in_days):
    likely_at = timezone.now() + timedelta(days=in_days)
    casts.update(dry_early_at=likely_at, dry_likely_at=likely_at, dry_late_at=likely_at)


def test_the_days_to_go_follow_the_slowest_cast(unit):
    job = makers.job_at(Stage.DRYING, unit)
    probably_dry(Cast.objects.filter(piece__job=job), in_days=4)
    probably_dry(Cast.objects.filter(piece=job.pieces.first()), in_days=7)
    assert "Drying: about 7 more days" in read(job)
    Cast.objects.filter(piece=job.pieces.first()).update(dry_at=timezone.now())
    assert "Drying: about 4 more days" in read(job)
    Cast.objects.filter(piece=job.pieces.last()).update(dry_at=timezone.now())
    assert "Dry: framing comes next" in read(job)


def test_a_spoiled_cast_no_longer_counts(unit):
    job = makers.job_at(Stage.DRYING, unit)
    probably_dry(Cast.objects.filter(piece__job=job), in_days=4)
    whole = Cast.objects.filter(piece__job=job).first()
    whole.pk, whole.rack_place = None, None
    whole.demoulded_at, whole.spoiled_at = timezone.now(), timezone.now()
    whole.spoiled_how = "break"
    whole.save()
    probably_dry(Cast.objects.filter(pk=whole.pk), in_days=9)
    assert "Drying: about 4 more days" in read(job)


def test_a_piece_left_off_is_not_shown(unit):
    job = makers.a_job(unit, pieces=3)
    jobs_actions.leave_off_piece(job.pieces.last(), why="Asleep.", **press(job))
    page = read(job)
    assert "left hand, right hand The sitting" in page
    assert "Asleep" not in page


def test_a_spoiled_cast_is_said_kindly(unit):
    job = makers.job_at(Stage.DRYING, unit)
    cast = Cast.objects.whole().filter(piece__job=job).first()
    bench_actions.spoil_piece(
        cast, how="break", why="It slipped out of my hand.", print_whole=True, **press(job)
    )
    page = read(job)
    assert "To be poured again" in page
    assert "slipped" not in page


def test_a_late_promise_gives_the_reason_that_was_written_for_the_family(unit):
    job = makers.job_at(Stage.DRYING, unit)
    yesterday = timezone.localdate() - timedelta(days=1)
    later = timezone.localdate() + timedelta(days=6)
    job.promised_on = yesterday
    job.save(update_fields=["promised_on"])
    assert f"We promised {units.day(yesterday)} and are late. We are sorry" in read(job)
    jobs_actions.promise(job, promised_on=later, why="The week was too damp", **press(job))
    page = read(job)
    assert f"Now promised for {units.day(later, timezone.localdate())}" in page
    assert (
        f"We promised {units.day(yesterday)} and are late. "
        "The reason: The week was too damp. We are sorry."
    ) in page


def test_what_happened_last_stands_first_and_the_benchs_business_nowhere(unit):
    noon = timezone.localtime().replace(hour=12) - timedelta(days=1)
    job = makers.job_at(Stage.FRAMING, unit, at=noon)
    view = family_page(job, timezone.localdate())
    assert view.history[0].words == "Framing began."
    said = [each.words for each in view.history]
    assert said.count("We checked how dry the casts are.") == 1
    follow(job)
    assert family_page(job, timezone.localdate()).history == view.history


def test_the_price_what_is_paid_and_what_is_owed(unit):
    Unit.objects.update(payment_words="Bank transfer\nto Hollin <Casts>")
    job = makers.job_at(Stage.DRYING, unit)
    page = read(job)
    assert "Pair of casts, framed £199.00 Altogether £199.00 Still to pay £199.00" in page
    assert "a deposit of £49.75 now" in page
    assert "Bank transfer to Hollin &lt;Casts&gt;" in page
    take_payment(
        job.order,
        amount_minor=5000,
        method="transfer",
        received_on=timezone.localdate(),
        **press(job),
    )
    page = read(job)
    assert "bank transfer £50.00 Still to pay £149.00" in page
    assert "deposit" not in page


def test_a_reversed_payment_is_not_shown_as_paid(unit):
    job = makers.job_at(Stage.DRYING, unit)
    payment = take_payment(
        job.order, amount_minor=5000, method="card", received_on=timezone.localdate(), **press(job)
    )
    reverse_payment(payment, why="The card failed.", **press(job))
    page = read(job)
    assert "£50.00" not in page
    assert "Still to pay £199.00" in page


def test_a_called_off_job_says_what_goes_back(unit):
    job = makers.a_job(unit)
    makers.prices(unit)
    price_job(job, **press(job))
    job.refresh_from_db()
    take_payment(
        job.order, amount_minor=5000, method="card", received_on=timezone.localdate(), **press(job)
    )
    call_off(job, seen=Stage.BOOKED, keep_minor=2000, why="They moved away.", **press(job))
    page = read(job)
    assert "Called off" in page
    assert "We owe you £30.00" in page
    assert "moved away" not in page
    assert "How it will look" not in page


def test_a_called_off_job_that_is_settled_says_that_nothing_is_owed(unit):
    job = makers.job_at(Stage.BOOKED, unit)
    paid = {"amount_minor": 2000, "method": "card", "received_on": timezone.localdate()}
    take_payment(job.order, **paid, **press(job))
    call_off(job, seen=Stage.BOOKED, keep_minor=2000, why="They moved.", **press(job))
    page = read(job)
    assert "Nothing is owed" in page
    assert "thank you" not in page


def test_a_finished_piece_comes_with_a_caution_for_hanging(unit):
    assert "above a cot" not in read(makers.job_at(Stage.DRYING, unit))
    for stage in (Stage.FRAMING, Stage.READY, Stage.HANDED_OVER):
        page = read(makers.job_at(stage, unit))
        assert "above a cot, a bed" in page
        assert "two fixings" in page
        assert "does not replace" in page


def test_names_that_are_code_stay_words(unit):
    nasty = "<script>alert(1)</script>"
    Unit.objects.update(name=nasty, payment_words=nasty, phone=nasty[:30])
    unit.refresh_from_db()
    for price in makers.prices(unit).prices.all():
        price.label = f"<img src=x onerror=alert({price.pk})>"
        price.save()
    job = makers.job_at(Stage.DRYING, unit, family=makers.a_family(unit, children=(nasty,)))
    jobs_actions.promise(job, promised_on=timezone.localdate(), why=nasty, **press(job))
    consented = consent(job)
    Consent.objects.filter(pk=consented.pk).update(wording=nasty)
    browser = follow(job)
    page = browser.get(browser.home).content.decode()
    assert page.count(escape(nasty)) >= 5
    assert "<script" not in page.lower()
    assert "<img src=x" not in page
    assert "&lt;img src=x" in page


def test_reading_the_page_costs_the_same_however_much_happened(unit, constant_queries):
    job = makers.job_at(Stage.READY, unit)
    consent(job)
    a_photo(job)
    invoice = issue_invoice(job.order, **press(job))
    browser = follow(job)

    def grow():
        for _ in range(3):
            a_photo(job)
            follow(job)
        credit_invoice(invoice, why="A slip.", **press(job))
        add_extra(
            job.order, price=job.order.price_list.prices.get(kind="extra"), quantity=2, **press(job)
        )
        for amount_minor in (100, 200, 300):
            take_payment(
                job.order,
                amount_minor=amount_minor,
                method="cash",
                received_on=timezone.localdate(),
                **press(job),
            )

    constant_queries(lambda: browser.get(browser.home), grow)


def test_the_first_view_is_light_and_asks_no_other_site(unit):
    job = makers.job_at(Stage.DRYING, unit, pieces=4)
    consent(job)
    consent(job, "show")
    browser = follow(job)
    page = browser.get(browser.home).content.decode()
    linked = re.findall(r'(?:src|href|action|data|poster)="([^"#]*)"', page)
    assert linked
    assert all(re.match(r"/(?!/)|tel:|mailto:", each) for each in linked), linked
    assert "@import" not in page
    files = [
        Path(django_settings.BASE_DIR) / each.lstrip("/")
        for each in linked
        if each.startswith("/static/")
    ]
    assert files
    # As they lie there, before any compression.
    assert len(page.encode()) + sum(path.stat().st_size for path in files) <= MOST_BYTES


def test_every_answer_forbids_indexing_storing_and_telling(unit, monkeypatch):
    job = makers.job_at(Stage.READY, unit)
    consent(job)
    photo = a_photo(job)
    invoice = issue_invoice(job.order, **press(job))
    _, token = a_link(job)
    browser = follow(job)
    home = browser.home
    strict = Client(enforce_csrf_checks=True)
    strict.cookies = browser.cookies
    answers = {
        "arrival": Client().get(f"/follow/{token}/"),
        "page": browser.get(home),
        "paper": browser.get(f"{home}papers/{invoice.pk}/"),
        "photo": browser.get(f"{home}photos/{photo.public_id}/"),
        "unknown": Client().get("/follow/wrong/"),
        "not allowed": browser.get(f"{home}look/"),
        "broken form": browser.post(f"{home}look/", {}),
        "refused": choose(browser, look_of(job)),
        "no token of the form": strict.post(f"{home}look/", {}),
        "noted": browser.post(
            f"{home}consents/{Consent.objects.get(purpose='keep').pk}/withdraw/",
            {"key": uuid.uuid4()},
        ),
    }
    with monkeypatch.context() as broken:
        broken.setattr("orders.family_page.views.family_page", lambda *_: 1 / 0)
        client = Client(raise_request_exception=False)
        client.cookies = browser.cookies
        answers["our fault"] = client.get(home)
    assert b"".join(answers["photo"].streaming_content)
    for _ in range(25):
        answers["throttled"] = Client().get("/follow/wrong/")
    assert {name: answer.status_code for name, answer in answers.items()} == {
        "arrival": 303,
        "page": 200,
        "paper": 200,
        "photo": 200,
        "unknown": 404,
        "not allowed": 405,
        "broken form": 422,
        "refused": 409,
        "no token of the form": 403,
        "noted": 302,
        "our fault": 500,
        "throttled": 429,
    }
    for name, answer in answers.items():
        assert answer["X-Robots-Tag"] == "noindex, nofollow, noarchive", name
        assert answer["Cache-Control"] == "no-store", name
        assert answer["Referrer-Policy"] == "strict-origin", name
        if name != "our fault":
            assert "default-src 'none'" in answer["Content-Security-Policy"], name
        assert answer["X-Content-Type-Options"] == "nosniff", name


def test_other_pages_are_left_alone(owner):
    assert "X-Robots-Tag" not in owner.get("/families/")


def test_a_person_of_another_studio_sees_the_jobs_studio_not_their_own(unit, stranger):
    browser = follow(makers.a_job(unit), stranger)
    page = words_of(browser.get(browser.home))
    assert "Hollin Casts" in page
    assert "Elsewhere Casts" not in page


def test_choosing_a_look_notes_it_prices_it_and_leaves_one_event(unit):
    job = makers.job_at(Stage.DRYING, unit)
    browser = follow(job)
    answer = browser.post(f"{browser.home}look/", look_of(job), follow=True)
    assert answer.redirect_chain == [(browser.home, 302)]
    page = words_of(answer)
    assert "Your choice is noted. Altogether it comes to £226.00." in page
    assert "Deep blue felt (chosen so far)" in page
    assert "Chalk linen (£12.00 less)" in page
    event = job.events.get(what="choose_look")
    assert event.by is None
    assert "Last, on" in page
    assert "You chose the backing and the finish." in page


def test_the_difference_in_price_is_said_before_choosing(unit):
    page = read(makers.job_at(Stage.DRYING, unit))
    assert "Chalk linen (no change in price) Deep blue felt (£12.00 more)" in page
    assert "Waxed oak (no change in price) Limed oak (£15.00 more)" in page


def test_the_same_key_twice_is_one_choice(unit):
    job = makers.job_at(Stage.DRYING, unit)
    browser = follow(job)
    sent = look_of(job)
    assert [choose(browser, sent).status_code for _ in range(2)] == [302, 302]
    assert job.events.filter(what="choose_look").count() == 1
    job.order.refresh_from_db()
    assert job.order.frame.version == sent["version"] + 1


@pytest.mark.parametrize("stage", [Stage.FRAMING, Stage.READY, Stage.HANDED_OVER])
def test_from_the_framing_on_a_choice_is_refused_with_a_sentence(unit, stage):
    job = makers.job_at(stage, unit)
    browser = follow(job)
    assert "Choose this look" not in words_of(browser.get(browser.home))
    answer = choose(browser, look_of(job))
    assert answer.status_code == 409
    assert "The framing has begun" in words_of(answer)
    assert not job.events.filter(what="choose_look").exists()


def test_what_was_chosen_stays_to_be_read(unit):
    job = makers.job_at(Stage.DRYING, unit)
    choose(follow(job), look_of(job))
    Cast.objects.filter(piece__job=job).update(dry_at=timezone.now())
    framing.start_framing(job, seen=Stage.DRYING, **press(job))
    page = read(job)
    assert "Backing Deep blue felt Finish of the oak Limed oak The framing has begun" in page


def test_a_finished_frame_is_as_it_looks_and_nothing_of_it_is_open(unit):
    makers.frame_range(unit)
    job = makers.job_at(Stage.DRYING, unit)
    choose(follow(job), look_of(job))
    assert "How it will look" in (page := read(job))
    assert "the casts decide" in page
    Job.objects.filter(pk=job.pk).update(stage=Stage.READY)
    page = read(job)
    assert "How it looks" in page
    assert "Backing Deep blue felt" in page
    assert "the casts decide" not in page
    assert "The framing has begun" not in page


def test_a_standing_invoice_fixes_the_look(unit):
    job = makers.job_at(Stage.DRYING, unit)
    browser = follow(job)
    sent = look_of(job)
    issue_invoice(job.order, **press(job))
    assert "An invoice is written for this order" in words_of(browser.get(browser.home))
    assert choose(browser, sent).status_code == 409


def test_of_two_phones_the_second_is_shown_both_choices_and_may_insist(unit):
    job = makers.job_at(Stage.DRYING, unit)
    first, second = follow(job), follow(job)
    late = look_of(job, "Chalk linen", "Limed oak")
    assert choose(first, look_of(job, "Deep blue felt", "Limed oak")).status_code == 302
    answer = choose(second, late)
    page = words_of(answer)
    assert answer.status_code == 409
    assert "Backing Deep blue felt Chalk linen" in page  # theirs, yours
    assert "Finish of the oak Limed oak" not in page  # the same in both
    form = answer.context["form"]
    assert form["backing"].value() == late["backing"]
    assert job.events.filter(what="choose_look").count() == 1
    again = {**late, "version": form["version"].value(), "key": form["key"].value()}
    assert again["key"] != late["key"]
    assert choose(second, again).status_code == 302
    job.order.refresh_from_db()
    assert job.order.frame.backing.name == "Chalk linen"


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"backing": ""}, "Choose one of these."),
        ({"backing": "999999"}, "Choose one of these."),
        ({"key": ""}, "sent without its key"),
        ({"key": "x"}, "broken key"),
        ({"version": ""}, "This is still needed."),
    ],
)
def test_a_broken_choice_comes_back_filled(unit, change, sentence):
    job = makers.job_at(Stage.DRYING, unit)
    browser = follow(job)
    sent = look_of(job) | change
    answer = choose(browser, sent)
    assert answer.status_code == 422
    assert sentence in words_of(answer)
    assert answer.context["form"]["finish"].value() == sent["finish"]
    assert not job.events.filter(what="choose_look").exists()


def test_another_studios_price_is_none_of_these(unit):
    job = makers.job_at(Stage.DRYING, unit)
    other = makers.prices(makers.a_unit(name="Other")).prices.get(label="Deep blue felt")
    answer = choose(follow(job), look_of(job) | {"backing": str(other.pk)})
    assert answer.status_code == 422


def test_a_list_without_choices_asks_for_none(unit):
    job = makers.job_at(Stage.DRYING, unit)
    job.order.price_list.prices.filter(kind__in=("backing", "finish")).delete()
    page = read(job)
    assert "How it will look" not in page
    assert "Still to pay £199.00" in page


def test_without_an_order_there_is_nothing_to_choose(unit):
    browser = follow(makers.a_job(unit))
    assert browser.post(f"{browser.home}look/", {}).status_code == 404


def test_papers_are_handed_out_as_pdfs(unit):
    Unit.objects.update(payment_words="Bank transfer\r\nor card.")
    job = makers.job_at(Stage.READY, unit)
    invoice = issue_invoice(job.order, **press(job))
    note = credit_invoice(invoice, why="A slip.", **press(job))
    browser = follow(job)
    page = browser.get(browser.home).content.decode()
    for paper in (invoice, note):
        address = f"{browser.home}papers/{paper.pk}/"
        assert f'href="{address}"' in page
        answer = browser.get(address)
        assert answer["Content-Type"] == "application/pdf"
        assert answer["Content-Disposition"] == f'attachment; filename="{paper.number}.pdf"'
        assert b"".join(answer.streaming_content).startswith(b"%PDF-")


def test_another_jobs_paper_and_photograph_are_not_there(unit):
    theirs, mine = (makers.job_at(Stage.READY, unit) for _ in range(2))
    consent(theirs)
    browser = follow(mine)
    invoice = issue_invoice(theirs.order, **press(theirs))
    photo = a_photo(theirs)
    unknown = Client().get("/follow/wrong/")
    for address in (f"papers/{invoice.pk}/", f"photos/{photo.public_id}/"):
        answer = browser.get(f"{browser.home}{address}")
        assert (answer.status_code, answer.content) == (404, unknown.content)


def test_photographs_of_the_frame_are_shown_while_the_consent_stands(unit):
    job = makers.job_at(Stage.READY, unit)
    kept = consent(job)
    frame, sitting = a_photo(job), a_photo(job, "sitting")
    browser = follow(job)
    page = browser.get(browser.home).content.decode()
    shown = f"{browser.home}photos/{frame.public_id}/"
    assert f'src="{shown}?size=view"' in page
    assert 'alt="The casts of Ada, framed"' in page
    assert str(sitting.public_id) not in page
    picture = browser.get(shown)
    assert picture["Content-Type"] == "image/jpeg"
    assert b"".join(picture.streaming_content).startswith(b"\xff\xd8\xff")
    assert browser.get(f"{shown}?size=huge").status_code == 404
    assert browser.get(f"{browser.home}photos/{sitting.public_id}/").status_code == 404
    answer = browser.post(f"{browser.home}consents/{kept.pk}/withdraw/", {"key": uuid.uuid4()})
    assert answer.status_code == 302
    assert str(frame.public_id) not in browser.get(browser.home).content.decode()
    assert browser.get(shown).status_code == 404


def test_a_consent_is_shown_with_its_words_and_taken_back_at_once(unit):
    job = makers.a_job(unit)
    keep, show = consent(job), consent(job, "show")
    browser = follow(job)
    page = words_of(browser.get(browser.home))
    assert f"We may {keep.get_purpose_display()}." in page
    assert f"We may {show.get_purpose_display()}." in page
    assert escape(" ".join(keep.wording.split())) in page
    assert "Sam" not in page
    address = f"{browser.home}consents/{show.pk}/withdraw/"
    sent = {"key": uuid.uuid4()}
    assert "You took your consent back." in words_of(browser.post(address, sent, follow=True))
    assert browser.post(address, sent).status_code == 302
    show.refresh_from_db()
    keep.refresh_from_db()
    assert show.withdrawn_at
    assert not keep.withdrawn_at
    page = browser.get(browser.home).content.decode()
    assert f"consents/{show.pk}/" not in page
    assert "You took back, on" in words_of(browser.get(browser.home))


def test_a_consent_given_again_stands_alone_on_the_page(unit):
    job = makers.a_job(unit)
    first = consent(job)
    consent_actions.withdraw_consent(first, **press(job))
    second = consent(job)
    view = family_page(job, timezone.localdate())
    about_photos = [each for each in view.consents if each.about_photos]
    assert [(each.pk, each.withdrawn_on) for each in about_photos] == [(second.pk, None)]


def test_a_family_takes_back_the_casts_and_the_studio_is_told(unit, owner):
    job = makers.a_job(unit)
    browser = follow(job)
    page = words_of(browser.get(browser.home))
    assert "We may take the prints and make the casts." in page
    assert "Taking this back stops the work" in page
    word = Consent.objects.get()
    address = f"{browser.home}consents/{word.pk}/withdraw/"
    told = words_of(browser.post(address, {"key": uuid.uuid4()}, follow=True))
    assert "we stop the work" in told
    assert "You took back" in told
    word.refresh_from_db()
    assert (word.withdrawn_at is None, word.withdrawn_by) == (False, None)
    assert f"Speak with {job.family}" in words_of(owner.get("/"))


def test_work_that_a_family_stopped_is_said_to_have_stopped_until_they_say_yes_again(unit):
    job = makers.job_at(Stage.DRYING, unit)
    consent_actions.withdraw_consent(Consent.objects.get(purpose="make"), **press(job))
    page = read(job)
    assert "The work has stopped" in page
    assert "Promised for" not in page
    assert "more day" not in page
    assert "Order and agree to pay" not in page
    consent(job, "make")
    page = read(job)
    assert "Order and agree to pay" in page
    assert "The work has stopped" not in page
    assert "Promised for" in page


def test_taking_back_the_keeping_takes_back_the_showing(unit):
    job = makers.a_job(unit)
    keep, show = consent(job), consent(job, "show")
    browser = follow(job)
    assert "also takes back that we may show" in words_of(browser.get(browser.home))
    browser.post(f"{browser.home}consents/{keep.pk}/withdraw/", {"key": uuid.uuid4()})
    show.refresh_from_db()
    assert show.withdrawn_at
    assert words_of(browser.get(browser.home)).count("You took back, on") == 2


def test_another_familys_consent_cannot_be_withdrawn(unit):
    theirs = consent(makers.a_job(unit))
    browser = follow(makers.a_job(unit, family=makers.a_family(unit, name="Other")))
    address = f"{browser.home}consents/{theirs.pk}/withdraw/"
    assert browser.post(address, {"key": uuid.uuid4()}).status_code == 404
    theirs.refresh_from_db()
    assert not theirs.withdrawn_at


def test_a_press_without_its_key_withdraws_nothing_and_says_so(unit):
    job = makers.a_job(unit)
    kept = consent(job)
    browser = follow(job)
    answer = browser.post(f"{browser.home}consents/{kept.pk}/withdraw/")
    assert answer.status_code == 409
    assert "sent without its key" in words_of(answer)
    kept.refresh_from_db()
    assert not kept.withdrawn_at


@pytest.mark.parametrize("address", ["look/", "consents/1/withdraw/"])
def test_what_writes_is_never_done_by_reading(unit, address):
    browser = follow(makers.a_job(unit))
    with CaptureQueriesContext(connection) as queries:
        assert browser.get(f"{browser.home}{address}").status_code == 405
    assert rows_written(queries) == []


def paper_of(job):
    browser = follow(job)
    pdf = b"".join(browser.get(f"{browser.home}order.pdf").streaming_content)
    read = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)
    return " ".join(read.split())


def test_the_order_on_paper_promises_nothing_of_a_frame_that_is_made(unit):
    makers.frame_range(unit)
    job = makers.job_at(Stage.DRYING, unit)
    paper = paper_of(job)
    assert "How it will look" in paper
    assert "Promised for" in paper
    Job.objects.filter(pk=job.pk).update(stage=Stage.HANDED_OVER)
    paper = paper_of(job)
    assert "How it looks" in paper
    assert "Promised for" not in paper
    assert "the casts decide" not in paper


def test_an_order_called_off_offers_no_paper_of_what_is_to_be_made(unit):
    job = makers.job_at(Stage.BOOKED, unit)
    assert "as of today" in read(job)
    call_off(job, seen=Stage.BOOKED, keep_minor=0, why="They moved.", **press(job))
    assert "as of today" not in read(job)
