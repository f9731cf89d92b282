"""The demo, loaded once for all tests of a module that only look at it."""

from datetime import UTC, datetime

import pytest
from django.db import transaction
from django.test import override_settings

from bookings.consent.models import Consent
from bookings.enquiries.models import Enquiry
from bookings.photos.models import Photo
from bookings.sittings.models import Sitting
from demo_data.loading import load
from demo_data.pictures import drawing
from orders.family_page.models import FamilyLink
from orders.invoices.models import Invoice
from orders.order.models import Order
from orders.payments.models import Payment
from orders.prices.models import PriceList
from production.casts.models import Cast, Pour, Weighing
from studio.accounts.models import Unit, User
from studio.families.models import Child, Family
from studio.jobs.models import Job, JobEvent, Piece

WEDNESDAY = datetime(2026, 11, 25, 10, 20, tzinfo=UTC)
BOOKS = (
    Unit, User, Family, Child, Job, Piece, JobEvent, Enquiry, Sitting, Consent, Photo,
    Pour, Cast, Weighing, PriceList, Order, Invoice, Payment, FamilyLink,
)  # fmt: skip
QUICK_HASHES = ["django.contrib.auth.hashers.MD5PasswordHasher"]


@pytest.fixture(scope="module")
def small_photos():
    """Drawing has tests of its own; here a picture may be small."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(drawing, "WIDTH_PX", 120)
        patch.setattr(drawing, "HEIGHT_PX", 90)
        yield


@pytest.fixture(scope="module")
def loaded_once(django_db_setup, django_db_blocker, small_photos, tmp_path_factory):
    media = tmp_path_factory.mktemp("demo")
    with (
        django_db_blocker.unblock(),
        transaction.atomic(),
        override_settings(MEDIA_ROOT=media, PASSWORD_HASHERS=QUICK_HASHES),
    ):
        yield load(WEDNESDAY, lambda line: None), media
        transaction.set_rollback(True)


@pytest.fixture
def loaded(loaded_once, db, settings):
    unit, settings.MEDIA_ROOT = loaded_once
    return unit


def counts():
    """How many rows each book of the studio holds."""
    return {model.__name__: model.objects.count() for model in BOOKS}
