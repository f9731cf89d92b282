"""Families, a job, the unit and the way in, as each person meets them."""

import uuid
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio import stages
from studio.accounts.models import Membership, Unit, User
from studio.families.models import Child, Family
from studio.jobs import actions
from studio.jobs.models import Job
from studio.limbs import Limb
from studio.stages import Stage
from tests import makers
from tests.parts.markup import folded

FAMILY = {
    "name": "Brackenbury",
    "contact_name": "Jo Brackenbury",
    "phone": "07700 900456",
    "email": "",
    "address": "",
    "postcode": "",
    "note": "",
    "version": "1",
}


def child_facts(**changes):
    born = timezone.localdate() - timedelta(weeks=10)
    facts = {"first_name": "Wren", "born_on": born.isoformat(), "due_on": "", "version": "1"}
    return facts | changes


def family_facts(**changes):
    child = {f"child-{name}": value for name, value in child_facts().items()}
    return FAMILY | child | changes


def opened(unit, **facts):
    family = makers.a_family(unit, **facts)
    return actions.open_job(
        family,
        wanted=[
            (family.children.first(), Limb.LEFT_HAND),
            (family.children.first(), Limb.LEFT_FOOT),
        ],
        promised_on=timezone.localdate() + timedelta(days=14),
        by=makers.owner_of(unit),
        at=timezone.now(),
        key=uuid.uuid4(),
    )


# the way in


def test_an_empty_caststead_leads_to_its_set_up_and_then_never_again(db):
    person = Client()
    assert person.get("/families/").headers["Location"] == reverse("studio:first_run")
    facts = {
        "owner_name": "Marian Hollin",
        "email": "Marian@Example.com",
        "password": "clay-and-oak-7",
        "name": "Hollin Casts",
        "address": "4 Kiln Yard",
        "postcode": "CF10 9ZZ",
        "phone": "01632 960111",
    }
    answer = person.post(reverse("studio:first_run"), facts)
    assert answer.headers["Location"] == reverse("studio:unit")
    assert Membership.objects.get().user.email == "marian@example.com"
    assert "Hollin Casts" in folded(person.get(reverse("studio:unit")).content.decode())

    again = Client().post(reverse("studio:first_run"), facts | {"email": "second@example.com"})
    assert again.status_code == 422
    assert "already set up" in folded(again.content.decode())
    assert (User.objects.count(), Unit.objects.count()) == (1, 1)
    shown = Client().get(reverse("studio:first_run"))
    assert shown.headers["Location"] == reverse("studio:log_in")


@pytest.mark.parametrize("password", ["short", "12345678901", "password"])
def test_a_weak_first_password_comes_back_with_a_sentence(db, password):
    answer = Client().post(
        reverse("studio:first_run"), {"password": password, "owner_name": "Marian"}
    )
    assert answer.status_code == 422
    assert not User.objects.exists()


def test_people_log_in_by_e_mail_in_any_case(unit):
    person = makers.a_person(unit)
    browser = Client()
    answer = browser.post(
        reverse("studio:log_in"), {"username": person.email.upper(), "password": makers.PASSWORD}
    )
    assert answer.headers["Location"] == reverse("studio:today")


def test_nobody_sees_a_page_without_logging_in(unit):
    for name in ("studio:today", "studio:families", "studio:unit", "bookings:diary"):
        answer = Client().get(reverse(name))
        assert answer.status_code == 302
        assert answer.headers["Location"].startswith(reverse("studio:log_in"))


def test_a_log_in_without_a_studio_is_told_so(unit):
    lost = Client()
    lost.force_login(User.objects.create_user("lost@example.com", "x", name="Lost"))
    answer = lost.get(reverse("studio:today"))
    assert answer.status_code == 403


# families


def test_a_family_and_its_child_are_added_together(owner, unit):
    answer = owner.post(reverse("studio:add_family"), family_facts())
    family = Family.objects.get()
    assert answer.headers["Location"] == family.get_absolute_url()
    assert (family.unit, family.children.get().first_name) == (unit, "Wren")


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"phone": ""}, "telephone number or an e-mail"),
        ({"name": ""}, "still needed"),
        ({"child-born_on": "2999-01-01"}, "still to come"),
        ({"child-born_on": "31.02.2026"}, "valid date"),
        ({"child-due_on": "2001-01-01"}, "after the birth"),
    ],
)
def test_a_faulty_family_comes_back_filled_with_a_sentence(owner, changes, sentence):
    answer = owner.post(reverse("studio:add_family"), family_facts(**changes))
    page = folded(answer.content.decode())
    assert answer.status_code == 422
    assert sentence in page
    assert "Jo Brackenbury" in page
    assert not Family.objects.exists()
    assert not Child.objects.exists()


def test_the_second_of_two_editors_sees_both_versions_and_loses_nothing(owner, unit):
    family = makers.a_family(unit)
    address = reverse("studio:edit_family", args=[family.pk])
    mine = FAMILY | {"name": family.name, "version": "1"}
    assert owner.post(address, mine | {"contact_name": "First Hand"}).status_code == 302

    second = owner.post(address, mine | {"contact_name": "Second Hand"})
    page = folded(second.content.decode())
    assert second.status_code == 409
    assert "First Hand" in page
    assert "Second Hand" in page
    family.refresh_from_db()
    assert (family.contact_name, family.version) == ("First Hand", 2)

    knowing = owner.post(address, mine | {"contact_name": "Second Hand", "version": "2"})
    family.refresh_from_db()
    assert knowing.status_code == 302
    assert (family.contact_name, family.version) == ("Second Hand", 3)


def test_families_are_found_by_what_a_person_remembers(owner, unit):
    makers.a_family(unit, name="Okafor", children=("Ada",))
    makers.a_family(unit, name="Brackenbury", children=("Wren", "Tom"), postcode="AA1 2ZZ")
    for words, found, not_found in [
        ("oka", "Okafor", "Brackenbury"),
        ("wren", "Brackenbury", "Okafor"),
        ("aa1 tom", "Brackenbury", "Okafor"),
    ]:
        page = folded(owner.get(reverse("studio:families"), {"q": words}).content.decode())
        assert found in page
        assert not_found not in page
    assert "No family matches" in folded(
        owner.get(reverse("studio:families"), {"q": "zzz"}).content.decode()
    )


def test_htmx_gets_the_list_alone_and_caches_know_it(owner, unit):
    makers.a_family(unit)
    answer = owner.get(reverse("studio:families"), headers={"HX-Request": "true"})
    assert folded(answer.content.decode()).count("<html") == 0
    assert 'id="families"' in folded(answer.content.decode())
    assert "HX-Request" in answer.headers["Vary"]


# a job


def test_a_job_shows_its_way_its_people_and_its_history(owner, unit):
    job = opened(unit)
    page = folded(owner.get(job.get_absolute_url()).content.decode())
    for words in (job.display_reference, "Ada", "Okafor", "Booked", "Opened"):
        assert words in page


@pytest.mark.parametrize("written", ["{}", " {} ", "{}-"])
def test_a_job_is_found_by_its_reference_as_written_on_a_slip(owner, unit, written):
    job = opened(unit)
    answer = owner.get(
        reverse("studio:find_job"), {"reference": written.format(job.display_reference.lower())}
    )
    assert answer.headers["Location"] == job.get_absolute_url()


@pytest.mark.parametrize("written", ["", "nonsense!", "0000-0000"])
def test_a_mistyped_reference_is_answered_with_a_sentence(owner, unit, written):
    answer = owner.get(reverse("studio:find_job"), {"reference": written}, follow=True)
    alert = answer.content.decode().split('role="alert"')[1].split(">")[0]
    assert "autofocus" in alert, "the error has the focus when the page comes"
    assert answer.status_code == 200
    assert len(list(answer.context["messages"])) == 1


def test_a_promise_changes_with_a_reason_and_once_a_key(owner, unit):
    job = opened(unit)
    key = str(uuid.uuid4())
    day = timezone.localdate() + timedelta(days=20)
    for _ in range(2):
        answer = owner.post(
            reverse("studio:promise", args=[job.reference]),
            {"promised_on": day.isoformat(), "why": "The rack is full.", "key": key},
        )
        assert answer.status_code == 302
    job.refresh_from_db()
    assert job.promised_on == day
    assert job.events.filter(what="promise").count() == 1

    silent = owner.post(
        reverse("studio:promise", args=[job.reference]),
        {"promised_on": day.isoformat(), "why": " ", "key": str(uuid.uuid4())},
    )
    assert silent.status_code == 422


@pytest.mark.parametrize("day", ["0001-01-01", "9999-12-31"])
def test_a_promise_of_a_mistyped_year_is_refused_and_the_bench_opens(owner, unit, day):
    job = makers.job_at(Stage.DRYING, unit)
    facts = {"promised_on": day, "why": "The rack is full.", "key": str(uuid.uuid4())}
    answer = owner.post(reverse("studio:promise", args=[job.reference]), facts)
    assert "check the year" in folded(answer.content.decode())
    assert answer.status_code == 409
    assert owner.get(reverse("production:bench")).status_code == 200


def test_a_passed_promise_stands_on_today_until_it_is_renewed(owner, unit):
    job = opened(unit)
    assert "Tell Okafor a new day" not in folded(owner.get("/").content.decode())
    Job.objects.filter(pk=job.pk).update(promised_on=timezone.localdate() - timedelta(days=1))
    page = folded(owner.get("/").content.decode())
    assert "Tell Okafor a new day" in page
    assert "and still at “Booked”" in page
    Job.objects.filter(pk=job.pk).update(stage=Stage.HANDED_OVER)
    assert "Tell Okafor a new day" not in folded(owner.get("/").content.decode())


def test_the_last_piece_cannot_be_left_off(owner, unit):
    job = opened(unit)
    first, last = job.pieces.all()
    leave = reverse("studio:leave_off_piece", args=[first.pk])
    facts = {"why": "Fast asleep.", "key": str(uuid.uuid4())}
    assert owner.post(leave, facts).status_code == 302
    refused = owner.post(
        reverse("studio:leave_off_piece", args=[last.pk]), facts | {"key": str(uuid.uuid4())}
    )
    assert refused.status_code == 409
    assert "last piece" in folded(refused.content.decode())
    assert job.pieces.on_the_job().get() == last


def test_a_closed_job_no_longer_changes(owner, unit):
    job = opened(unit)
    Job.objects.filter(pk=job.pk).update(stage=Stage.HANDED_OVER)
    answer = owner.post(
        reverse("studio:promise", args=[job.reference]),
        {"promised_on": "2027-01-01", "why": "Late.", "key": str(uuid.uuid4())},
    )
    assert answer.status_code == 409
    assert "no longer changes" in folded(answer.content.decode())


def test_opening_a_job_twice_with_one_key_is_one_job(unit):
    family = makers.a_family(unit)
    child = family.children.get()
    facts = {
        "wanted": [(child, Limb.LEFT_HAND)],
        "promised_on": None,
        "by": makers.owner_of(unit),
        "at": timezone.now(),
        "key": uuid.uuid4(),
    }
    assert actions.open_job(family, **facts) == actions.open_job(family, **facts)
    assert Job.objects.count() == 1


def test_a_job_takes_no_child_of_another_family(unit):
    family, other = makers.a_family(unit), makers.a_family(unit, name="Brackenbury")
    with pytest.raises(stages.ActionRefused, match="another family"):
        actions.open_job(
            family,
            wanted=[(other.children.get(), Limb.LEFT_HAND)],
            promised_on=None,
            by=makers.owner_of(unit),
            at=timezone.now(),
            key=uuid.uuid4(),
        )
    assert not Job.objects.exists()


# the unit


def test_only_the_owner_changes_the_unit_and_gives_log_ins(owner, helper, unit):
    for name in ("studio:unit", "studio:edit_unit", "studio:add_person"):
        assert helper.get(reverse(name)).status_code == 403
        assert owner.get(reverse(name)).status_code == 200


def test_a_log_in_is_given_and_an_address_taken_once(owner, unit):
    facts = {
        "name": "Bea",
        "email": "bea@example.com",
        "role": "helper",
        "password": "wet-plaster-9",
    }
    assert owner.post(reverse("studio:add_person"), facts).status_code == 302
    again = owner.post(reverse("studio:add_person"), facts)
    assert again.status_code == 409
    assert "already logs in" in folded(again.content.decode())
    assert unit.memberships.filter(role="helper").count() == 1


def test_a_vat_date_needs_its_number(owner, unit):
    page = owner.get(reverse("studio:edit_unit"))
    facts = {
        name: value for name, value in page.context["form"].initial.items() if value is not None
    }
    answer = owner.post(reverse("studio:edit_unit"), facts | {"vat_registered_on": "2026-01-01"})
    assert answer.status_code == 422
    assert "VAT number" in folded(answer.content.decode())


def test_the_network_office_sees_no_child(office, unit):
    job = opened(unit)
    for address in (
        reverse("studio:families"),
        job.get_absolute_url(),
        job.family.get_absolute_url(),
        reverse("bookings:diary"),
        reverse("production:bench"),
        reverse("orders:money"),
    ):
        assert office.get(address).status_code == 403


def test_the_network_office_comes_to_its_own_rooms_and_is_led_back_to_them(office, unit):
    assert office.get("/").headers["Location"] == reverse("bookings:send_enquiry")
    for address in (reverse("studio:families"), reverse("orders:royalty_return", args=[999])):
        page = folded(office.get(address).content.decode())
        assert f'href="{reverse("bookings:send_enquiry")}">Go to Enquiries</a>' in page
        assert "Go to Today" not in page


def test_a_helper_is_led_back_to_today(helper, unit):
    assert 'href="/">Go to Today</a>' in folded(helper.get(reverse("studio:unit")).content.decode())


def test_a_clear_day_sends_only_a_studio_without_families_to_its_first_one(owner, unit):
    first_step = 'href="/families/add/"'
    assert first_step in folded(owner.get("/").content.decode())
    makers.a_family(unit)
    page = folded(owner.get("/").content.decode())
    assert "The day is clear" in page
    assert first_step not in page


def test_the_list_of_families_reads_no_more_for_many(owner, unit, constant_queries):
    def grow(count):
        for number in range(count):
            makers.a_family(unit, name=f"Name{number}", children=("A", "B"))

    grow(10)
    constant_queries(lambda: owner.get(reverse("studio:families")), lambda: grow(190))


def test_a_family_with_many_jobs_reads_no_more(owner, unit, constant_queries):
    family = makers.a_family(unit)
    child, by = family.children.get(), makers.owner_of(unit)

    def grow(count):
        for _ in range(count):
            actions.open_job(
                family,
                wanted=[(child, Limb.LEFT_HAND)],
                promised_on=None,
                by=by,
                at=timezone.now(),
                key=uuid.uuid4(),
            )

    grow(10)
    constant_queries(lambda: owner.get(family.get_absolute_url()), lambda: grow(190))


@pytest.mark.parametrize("verb", ["get", "put", "delete"])
def test_reading_changes_nothing(owner, unit, verb):
    """Each address that writes refuses other verbs, or answers GET with a page."""
    job = opened(unit)
    before = job.events.count()
    answer = getattr(owner, verb)(reverse("studio:promise", args=[job.reference]))
    assert answer.status_code == (200 if verb == "get" else 405)
    assert job.events.count() == before
