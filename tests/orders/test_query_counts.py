"""How many queries the pages of money take: few, whatever is on them."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from studio.stages import Stage
from tests.addresses import a_studio
from tests.orders.family_page.following import follow

pytestmark = pytest.mark.django_db

MONEY = (
    "to-come/",
    "invoices/",
    "invoices/batch/",
    "ageing/",
    "turnover/",
    "payments/",
    "bank/",
    "vouchers/",
    "vouchers/sell/",
    "royalty/",
    "books/",
    "earned/",
    "prices/",
)
MOST, MOST_OF_AN_ORDER = 25, 40


def queries_of(browser, url):
    browser.get(url)  # warm content types
    with CaptureQueriesContext(connection) as captured:
        assert browser.get(url).status_code == 200, url
    return len(captured)


def test_the_pages_of_money_and_of_a_family_take_few_queries(unit, owner):
    studio = a_studio(unit)
    pages = [f"/money/{page}" for page in ("", *MONEY)]
    pages += [f"/families/{studio.family.pk}/account/"]
    counts = {url: queries_of(owner, url) for url in pages}
    for stage in Stage:
        family = follow(studio.at(stage))
        counts[f"family page, {stage}"] = queries_of(family, family.home)
    assert {url: count for url, count in counts.items() if count > MOST} == {}


def test_an_order_and_its_job_take_at_most_40(unit, owner):
    studio = a_studio(unit)
    jobs = {stage: studio.at(stage) for stage in Stage}
    counts = {
        (stage, url): queries_of(owner, url)
        for stage, job in jobs.items()
        for url in (job.get_absolute_url(), job.order.get_absolute_url())
    }
    assert {page: count for page, count in counts.items() if count > MOST_OF_AN_ORDER} == {}
