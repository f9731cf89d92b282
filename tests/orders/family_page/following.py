"""Shared by the tests of the families' page: a link, and a browser that followed it."""

from django.test import Client
from django.utils import timezone

from orders.family_page.private_links import make_link
from tests import makers


def a_link(job, **more):
    """A link to the job and its token."""
    return make_link(job, **{"by": makers.owner_of(job.unit), "at": timezone.now(), **more})


def follow(job, client=None):
    """A browser that opened a fresh link of the job; `.home` is the page's address."""
    client = client or Client()
    _, token = a_link(job)
    client.home = client.get(f"/follow/{token}/")["Location"]
    return client


def rows_written(queries):
    """The statements that write, of captured queries."""
    return [
        query["sql"]
        for query in queries.captured_queries
        if query["sql"].split()[0].upper() in {"INSERT", "UPDATE", "DELETE"}
    ]
