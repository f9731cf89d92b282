"""Who may not: a walk over every address as somebody else's owner, as nobody, and by role."""

import io
import uuid

import pytest
from django.apps import apps
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from studio.limbs import Limb
from studio.stages import Stage
from tests.addresses import a_studio, addresses, look, words_for
from tests.orders.family_page.following import follow
from tests.working import planned

pytestmark = pytest.mark.django_db

OPEN = (
    "studio:first_run",
    "studio:log_in",
    "studio:tablet",
    "studio:tablet_manifest",
    "studio:tablet_worker",
)
# They speak JSON, and tell who is logged out so instead of showing a page.
SPEAK_JSON = (
    "studio:pack",
    "studio:keep_entries",
    "studio:settle_entry",
    "bookings:tablet_photo",
)
# Every unit has its own of that name.
WEEKS = (
    "production:week",
    "production:weekly_sheet",
    "bookings:labels_of_week",
    "orders:day_book_of",
    "orders:day_book_csv",
    "orders:day_book_json",
)
OFFICES = ("bookings:send_enquiry", "orders:returns")
OFFICE_READS_TOO = (
    "orders:royalty_return",
    "orders:royalty_return_pdf",
    "orders:royalty_return_csv",
)
OWNERS_ALONE = (
    "studio:unit",
    "studio:edit_unit",
    "studio:add_person",
    "production:release_dry",
    "production:working_week",
    "production:edit_working_week",
    "production:add_other_days",
    "production:drop_other_days",
    "production:plan_anew",
    "production:add_spoil_reason",
    "production:end_spoil_reason",
    "production:pin_step",
    "production:unpin_step",
    "production:send_by_courier",
    "production:add_material",
    "production:add_usual_materials",
    "production:edit_material",
    "production:retire_material",
    "production:bring_back_material",
    "production:order_material",
    "production:close_purchase",
    "production:adjust_lot",
    "production:correct_cost",
    "production:workshop",
    "production:edit_workshop",
    "production:add_plaster",
    "production:edit_plaster",
    "production:put_plaster_away",
    "production:frame_range",
    "production:edit_frame_habits",
    "production:add_moulding",
    "production:edit_moulding",
    "production:retire_moulding",
    "production:add_frame_size",
    "production:drop_frame_size",
    "bookings:erase_photos",
)
HELPERS_IN_ORDERS = ("orders:hand_over",)
# A key or a week of one's own: it names no row of ours.
MADE_BY_THE_SENDER = ("bookings:tablet_photo", "production:print_week")
# What is noted of a visitor who changes nothing: its session, its tries of links.
BESIDE = ("sessions.Session", "orders.LinkMiss")


@pytest.fixture
def studio(unit):
    return a_studio(unit)


@pytest.fixture
def staffed(studio):
    """The addresses that ask for a log-in."""
    return [
        each
        for each in addresses(studio)
        if each.name not in OPEN and not each.name.startswith("family_page:")
    ]


def everything():
    """All rows of all tables, as they stand."""
    return {
        model._meta.label: sorted(map(repr, model._default_manager.values_list()))
        for model in apps.get_models()
        if model._meta.label not in BESIDE
    }


def press(client, address, words):
    return client.post(address.url, words).status_code


def met(client, where, words, *, but):
    """(name, looked, pressed) of each address that answers with another status than `but`."""
    return [
        (each.name, looked, pressed)
        for each in where
        for looked, pressed in [(look(client, each.url).status_code, press(client, each, words))]
        if not {looked, pressed} <= but
    ]


def test_the_owner_reaches_every_address(staffed, owner):
    """The control of the tests below: what strangers do not find is there."""
    statuses = {
        each.name: look(owner, each.url).status_code for each in staffed if each.name not in OFFICES
    }
    assert {
        name: status for name, status in statuses.items() if status not in (200, 302, 405)
    } == {}
    assert len(statuses) > 60


def test_a_stranger_finds_nothing_and_changes_nothing(studio, staffed, stranger):
    before = everything()
    beside = (*WEEKS, *MADE_BY_THE_SENDER)
    ours = [each for each in staffed if each.takes and each.name not in beside]
    assert len(ours) > 50
    assert met(stranger, ours, words_for(studio), but={404, 405}) == []
    # A press is not taken either where only looking is refused.
    assert {press(stranger, each, words_for(studio)) for each in ours} == {404, 405}
    assert everything() == before


def test_a_strangers_own_pages_tell_nothing_of_ours(studio, staffed, stranger):
    names = [job.display_reference for job in studio.jobs.values()]
    names += ["Featherstone", "Wilhelmina", "Okafor", "Weatherall", "casting plaster"]
    told = []
    for each in staffed:
        if each.name in WEEKS or not each.takes:
            response = stranger.get(each.url)
            text = words_of(response)
            told += [(each.name, name) for name in names if name in text]
    assert told == []


def words_of(response):
    if response["Content-Type"] == "application/pdf":
        pages = PdfReader(io.BytesIO(response.content)).pages
        return "\n".join(page.extract_text() for page in pages)
    return response.content.decode()


def test_our_week_tells_of_ours(studio, staffed, owner):
    """The control of the test above: the same words are found where they belong."""
    planned(studio.unit)
    for each in staffed:
        if each.name in WEEKS:
            told = Stage.DRYING if each.name.startswith("production:") else Stage.BOOKED
            assert studio.at(told).display_reference in words_of(owner.get(each.url)), each.name


def test_nobody_is_sent_to_the_log_in(studio, staffed, parent):
    before = everything()
    told = [each for each in staffed if each.name in SPEAK_JSON]
    sent = [each for each in staffed if each.name not in SPEAK_JSON]
    assert met(parent, sent, words_for(studio), but={302}) == []
    assert met(parent, told, words_for(studio), but={401}) == []
    log_in = reverse("studio:log_in")
    for each in sent:
        where = parent.get(each.url)["Location"]
        assert where.startswith(log_in), each.name
    assert everything() == before


def test_nobody_opens_a_familys_pages_without_its_link(studio, parent):
    before = everything()
    pages = [
        each
        for each in addresses(studio)
        if each.name.startswith("family_page:") and each.name != "family_page:arrive"
    ]
    assert len(pages) > 5
    assert met(parent, pages, words_for(studio), but={404, 405}) == []
    assert everything() == before


def test_one_familys_link_opens_no_other_familys_pages(studio):
    family = follow(studio.at(Stage.DRYING))
    token = family.cookies["caststead_follow"].value
    visitor = Client(headers={"cookie": f"caststead_follow={token}"})  # sent to every path
    assert visitor.get(family.home).status_code == 200
    before = everything()
    pages = [
        each
        for each in addresses(studio)
        if each.name.startswith("family_page:") and each.name != "family_page:arrive"
    ]
    assert met(visitor, pages, words_for(studio), but={404, 405}) == []
    assert everything() == before


def owners_alone(name):
    return name in OWNERS_ALONE or (name.startswith("orders:") and name not in HELPERS_IN_ORDERS)


def test_a_helper_is_told_that_money_and_the_unit_are_not_theirs(studio, staffed, helper):
    before = everything()
    closed = [each for each in staffed if owners_alone(each.name) or each.name in OFFICES]
    assert met(helper, closed, words_for(studio), but={403}) == []
    assert everything() == before


def test_a_helper_reaches_all_else(studio, staffed, helper):
    open_to_helpers = [
        each for each in staffed if not owners_alone(each.name) and each.name not in OFFICES
    ]
    statuses = {each.name: look(helper, each.url).status_code for each in open_to_helpers}
    assert {
        name: status for name, status in statuses.items() if status not in (200, 302, 405)
    } == {}


def test_the_office_has_its_own_pages_and_reads_returns(studio, staffed, office):
    before = everything()
    its_own = (*OFFICES, *OFFICE_READS_TOO, "studio:log_out", "studio:today")
    closed = [each for each in staffed if each.name not in its_own]
    assert met(office, closed, words_for(studio), but={403}) == []
    assert everything() == before
    for each in staffed:
        if each.name in (*OFFICES, *OFFICE_READS_TOO):
            assert look(office, each.url).status_code == 200, each.name


def test_the_office_never_reads_of_a_family_or_a_child(studio, staffed, office):
    names = [
        "Featherstone",
        "Wilhelmina",
        "Okafor",
        "Ada",
        *(j.display_reference for j in studio.jobs.values()),
    ]
    for each in staffed:
        if each.name in OFFICE_READS_TOO:
            text = words_of(look(office, each.url))
            assert "payment" in text, each.name
            assert [name for name in names if name in text] == [], each.name


@pytest.mark.parametrize("person", ["owner", "helper", "office", "stranger", "parent"])
def test_djangos_own_pages_are_closed(person, request, unit):
    answered = request.getfixturevalue(person).get("/admin/studio/job/")
    assert answered.status_code == 302
    assert answered["Location"].startswith(("/admin/login/", reverse("studio:log_in")))


# --- one's own page with a row of somebody else's in the form ---------------------------------------------------------


@pytest.fixture
def theirs(stranger):
    """A studio of another unit, like ours."""
    return a_studio(stranger.user.memberships.get().unit)


def others_rows(studio, theirs):
    """(name of our address, its arguments, the words that name a row of theirs, the statuses)."""
    mine = {"reference": studio.at(Stage.BOOKED).reference}
    child = theirs.family.children.first()
    price = {kind: str(theirs.price(kind).pk) for kind in ("extra", "backing", "finish")}
    pieces = [str(piece.pk) for piece in theirs.at(Stage.CLAY_REST).pieces.all()]
    their_line = theirs.order.lines.get(price=None)
    their_payment = theirs.order.payments.get()
    enquiry = {"pk": studio.unit.enquiries.get().pk}
    family = {"pk": studio.family.pk}
    drying = {"reference": studio.at(Stage.DRYING).reference}
    return [
        ("bookings:answer_with_family", enquiry, {"family": str(theirs.family.pk)}, 404),
        ("bookings:book_sitting", family, {"wanted": [f"{child.pk}-{Limb.LEFT_FOOT}"]}, 422),
        ("bookings:add_photo", drying, {"piece": pieces[0], "kind": "sitting"}, 422),
        ("production:pour", {}, {"pieces": pieces}, 422),
        ("orders:add_extra", mine, {"price": price["extra"]}, 422),
        ("orders:choose_look", mine, {"backing": price["backing"], "finish": ""}, 422),
        ("orders:choose_look", mine, {"backing": "", "finish": price["finish"]}, 422),
        ("orders:make_price_list", {}, {"copy_of": str(theirs.order.price_list_id)}, 422),
        ("orders:pay_by_voucher", mine, {"code": theirs.unit.vouchers.latest("pk").code}, 409),
        (
            "orders:post_line",
            {"pk": studio.unit.statement_lines.get().pk},
            {"reference": theirs.at(Stage.BOOKED).reference},
            409,
        ),
        ("orders:drop_line", {**mine, "pk": their_line.pk}, {}, 404),
        ("orders:reverse_payment", {**mine, "pk": their_payment.pk}, {}, 404),
    ]


def test_a_row_of_another_unit_is_not_taken_on_ones_own_page(studio, theirs, owner):
    before = everything()
    answered = []
    for name, arguments, words, status in others_rows(studio, theirs):
        sent = {**words_for(studio), "key": str(uuid.uuid4()), **words}
        response = owner.post(reverse(name, kwargs=arguments), sent)
        answered += [(name, response.status_code)] if response.status_code != status else []
    assert answered == []
    assert everything() == before
