"""What jobs earn on the owner's pages: by kind and source, with her own minutes where she wrote them."""

import uuid
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from bookings.enquiries.actions import take_enquiry
from bookings.enquiries.models import Enquiry
from orders.costs.actions import set_work_rates, write_effort
from orders.costs.earnings import earned, earnings, usual_minutes
from orders.invoices.actions import issue_invoice
from studio.stages import Stage
from tests import makers


@pytest.fixture
def gone(unit, by, at):
    """Two casts gone home, £199.00, paid by card."""
    return makers.job_at(Stage.HANDED_OVER, unit, pieces=2, by=by, at=at)


def test_a_job_by_hand(unit, gone):
    set_work_rates(unit, hour_minor=1200, card_percent=Decimal("1.5"))
    write_effort(gone, minutes=100, travel_minor=450)
    found = earned(gone)
    assert (found.net_minor, found.work_minor, found.travel_minor) == (19900, 2000, 450)
    assert found.fees_minor == 299  # 1.5 % of 199.00 is 2.985, half up


def test_without_minutes_the_usual_ones_count(unit, gone):
    # sitting 45, a third of a bucket 25·2//6, demould and frame share 2·(10+10), frame 40
    assert earned(gone).minutes == 45 + 8 + 40 + 40
    assert usual_minutes(unit, gone, 2) == 133


def test_groups_by_kind_and_by_source(unit, gone, by, at):
    enquiry = take_enquiry(
        unit, facts={"name": "Sam", "phone": "1", "source": "fair"}, at=at, key=uuid.uuid4()
    )
    Enquiry.objects.filter(pk=enquiry.pk).update(family=gone.family, answer="family")
    makers.job_at(Stage.HANDED_OVER, unit, pieces=4, by=by, at=at)
    now = timezone.now()
    found = earnings(unit, now.replace(year=now.year - 1), now)
    assert {(group.name, group.jobs) for group in found.by_source} == {
        ("a fair", 1),
        ("not known", 1),
    }
    assert {group.name for group in found.by_kind} == {
        "Pair of casts, framed",
        "Set of four casts, framed",
    }


def test_an_invoice_with_vat_is_reckoned_net(vat, order, press):
    vat()
    order.unit.refresh_from_db()
    issue_invoice(order, **press())
    assert earned(order.job).net_minor == 32400 - 5400


def test_its_pages(owner, unit, gone):
    page = owner.get(reverse("orders:earnings")).content.decode()
    assert "Pair of casts, framed" in page
    rates = reverse("orders:set_work_rates")
    assert owner.post(rates, {"hour_minor": "x"}).status_code == 422
    owner.post(rates, {"hour_minor": "20", "card_percent": "0"})
    assert unit.work_rates.hour_minor == 2000
    effort = reverse("orders:write_effort", args=[gone.reference])
    owner.post(effort, {"minutes": "60", "travel_minor": ""})
    gone.refresh_from_db()
    assert (gone.effort.minutes, gone.effort.travel_minor) == (60, 0)


def test_the_page_reads_no_more_for_many_jobs(owner, unit, gone, by, at, constant_queries):
    def grow():
        for _ in range(3):
            makers.job_at(Stage.HANDED_OVER, unit, by=by, at=at)

    constant_queries(lambda: owner.get(reverse("orders:earnings")), grow)


def test_nothing_yet(owner):
    assert "No job went home yet" in owner.get(reverse("orders:earnings")).content.decode()
