"""Jobs at each station of the bench, brought there by the actions that people use."""

import uuid

import pytest
from django.urls import reverse

from production.casts.models import Cast
from studio.stages import Stage
from tests import makers


@pytest.fixture
def in_clay(unit):
    """Both hands of Ada, in the clay, nothing poured."""
    return makers.job_at(Stage.CLAY_REST, unit)


@pytest.fixture
def in_mould(unit):
    return makers.job_at(Stage.CASTING, unit)


@pytest.fixture
def on_rack(unit):
    """Two casts ten days out of the mould, never weighed."""
    return makers.job_at(Stage.DRYING, unit)


@pytest.fixture
def framing(unit):
    return makers.job_at(Stage.FRAMING, unit)


@pytest.fixture
def ready(unit):
    return makers.job_at(Stage.READY, unit)


def casts_of(job):
    return list(Cast.objects.whole().filter(piece__job=job).order_by("pk"))


def press(client, name, *args, key=None, **data):
    """POST as a button does, with a fresh key unless the test brings one."""
    url = reverse(f"production:{name}", args=args)
    return client.post(url, {"key": key or uuid.uuid4(), **data})


@pytest.fixture
def oak(unit):
    return makers.frame_range(unit)


def sent(page, **changed):
    """What the press under the week's cutting sends."""
    return {
        "key": str(uuid.uuid4()),
        "moulding": page.moulding.pk,
        "jobs": [frame.job.pk for frame in page.week.frames],
        "seal": page.week.seal,
    } | changed
