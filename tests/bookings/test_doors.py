"""Who may press what: a stranger, the network office, nobody at all, a GET where there is none."""

import io
import uuid

import pytest
from django.urls import reverse
from django.utils import timezone

from bookings.enquiries import actions
from bookings.photos import actions as photos_actions
from bookings.photos import cleaning
from tests import makers


@pytest.fixture
def rooms(doing, sitting, family):
    """Every address of bookings with what it is about, in the unit of `owner`."""
    at = timezone.now()
    enquiry = actions.take_enquiry(
        doing.unit,
        facts={"name": "Priya", "phone": "07700 900456", "source": "web"},
        at=at,
        key=uuid.uuid4(),
    )
    consent = doing.consent(family)
    photo = photos_actions.add_photo(
        sitting.job,
        clean=cleaning.clean(io.BytesIO(makers.a_jpeg())),
        kind="sitting",
        **doing.who(),
    )
    return {
        "book_sitting": family.pk,
        "book_again": sitting.job.reference,
        "move_sitting": sitting.pk,
        "cancel_sitting": sitting.pk,
        "sitting": sitting.pk,
        "finish_sitting": sitting.pk,
        "log_print": sitting.prints.first().pk,
        "give_consent": family.pk,
        "withdraw_consent": consent.pk,
        "add_photo": sitting.job.reference,
        "photo": photo.public_id,
        "erase_photos": family.pk,
        "answer_with_family": enquiry.pk,
        "answer_with_new_family": enquiry.pk,
        "decline_enquiry": enquiry.pk,
    }


READ = {"sitting", "photo"}
PRESSED = {
    "finish_sitting",
    "log_print",
    "give_consent",
    "withdraw_consent",
    "answer_with_new_family",
}


def test_a_stranger_finds_nothing(rooms, stranger):
    for name, about in rooms.items():
        url = reverse(f"bookings:{name}", args=[about])
        send = stranger.get if name in READ else stranger.post
        assert send(url, {"key": uuid.uuid4()}).status_code == 404, name


def test_the_network_office_may_not(rooms, office):
    for name, about in rooms.items():
        url = reverse(f"bookings:{name}", args=[about])
        send = office.get if name in READ else office.post
        assert send(url, {"key": uuid.uuid4()}).status_code == 403, name
    for name in ("diary", "enquiries", "take_enquiry"):
        assert office.get(reverse(f"bookings:{name}")).status_code == 403, name


def test_nobody_at_all_is_asked_to_log_in(rooms, parent):
    for name, about in rooms.items():
        answer = parent.get(reverse(f"bookings:{name}", args=[about]))
        assert answer.headers["Location"].startswith(reverse("studio:log_in")), name


def test_a_write_is_no_get_and_a_read_no_post(rooms, owner):
    for name, about in rooms.items():
        url = reverse(f"bookings:{name}", args=[about])
        if name in PRESSED:
            assert owner.get(url).status_code == 405, name
        elif name in READ:
            assert owner.post(url).status_code == 405, name
        else:
            assert owner.get(url).status_code == 200, name


def test_a_press_without_its_key_writes_nothing(rooms, owner, unit, family):
    for name in ("finish_sitting", "log_print", "give_consent", "withdraw_consent"):
        facts = {"outcome": "taken", "put_off": "split", "purpose": "show", "given_by": "Sam"}
        answer = owner.post(reverse(f"bookings:{name}", args=[rooms[name]]), facts)
        assert answer.status_code in (409, 422), name
        assert "without its key" in answer.content.decode(), name
    assert family.consents.in_force().count() == 1
    assert unit.jobs.filter(events__what="log_print").count() == 0
