"""Every page of the site reads as often for two hundred jobs as for ten, and not too often."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from orders.family_page.models import FamilyLink
from studio.stages import Stage
from tests.addresses import a_studio, addresses, look
from tests.many import many, much_on
from tests.orders.family_page.following import follow

pytestmark = [pytest.mark.django_db, pytest.mark.any_database]

FEW, MORE = 10, 190

# How many queries a page may use: a goal for what a person waits for, whatever the number of jobs.
BUDGET = 25
BUDGETS = {
    "studio:today": 40,
    "studio:job": 40,
    "orders:order": 40,
}


@pytest.fixture
def studio(unit):
    return a_studio(unit)


def grow(studio, count):
    many(studio.unit, count, family=studio.family)
    for job in studio.jobs.values():
        much_on(job, count)


def pages(client, urls):
    """Those addresses that show `client` a page; looking warms what is asked once in a process."""
    shown = [(url, look(client, url)) for url in urls]
    return [
        url
        for url, response in shown
        if response.status_code == 200 and response["Content-Type"].startswith("text/html")
    ]


def reads(client, urls):
    """How many queries each page takes."""
    taken = {}
    for url in urls:
        with CaptureQueriesContext(connection) as captured:
            client.get(url)
        taken[url] = len(captured)
    return taken


def test_no_page_of_the_staff_reads_more_for_many_jobs(studio, owner):
    staff = [each for each in addresses(studio) if not each.name.startswith("family_page:")]
    budgets = {each.url: BUDGETS.get(each.name, BUDGET) for each in staff}
    grow(studio, FEW)
    few = reads(owner, pages(owner, budgets))
    assert len(few) > 60
    assert min(few[url] for url in ("/", "/bench/", "/diary/", "/money/", "/families/")) > 3
    assert {url: reads for url, reads in few.items() if reads > budgets[url]} == {}
    grow(studio, MORE)
    after = reads(owner, few)
    assert {url: (few[url], after[url]) for url in few if few[url] != after[url]} == {}


def test_no_familys_page_reads_more_for_many_jobs(studio):
    families = {stage: follow(job) for stage, job in studio.jobs.items()}
    grow(studio, FEW)
    for family in families.values():
        assert pages(family, [family.home]) == [family.home]
    few = {stage: reads(family, [family.home]) for stage, family in families.items()}
    grow(studio, MORE)
    assert FamilyLink.objects.filter(job=studio.at(Stage.READY)).count() > MORE
    assert min(taken for pages in few.values() for taken in pages.values()) > 3
    assert {stage: reads(family, [family.home]) for stage, family in families.items()} == few
