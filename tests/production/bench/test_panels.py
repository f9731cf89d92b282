"""The bench on Today and on a job's page."""

import uuid
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from production.bench import panels, weighing
from studio.roles import Role
from studio.stages import Stage
from tests import makers
from tests.parts.markup import faults, folded
from tests.production.conftest import casts_of, press
from tests.working import planned


def todays(unit, now=None):
    return list(panels.at_the_bench(unit, Role.OWNER, now or timezone.now()))


def job_page(client, job):
    page = folded(client.get(job.get_absolute_url()).content.decode())
    assert not faults(page)
    return page


def test_an_empty_bench_asks_for_nothing(unit):
    assert todays(unit) == []


def test_a_print_is_to_be_poured_by_its_hour(unit, in_clay):
    taken_at = in_clay.sittings.get().prints.first().taken_at
    planned(unit, taken_at)
    item = todays(unit, taken_at + timedelta(hours=1))[0]
    assert item.title == "Pour Ada: left hand, right hand"
    assert (item.reference, item.why_late) == (in_clay.reference, "")
    assert item.detail.startswith("by ")
    late = todays(unit, taken_at + timedelta(days=3))[0]
    assert late.why_late.startswith("Late: the clay was to be poured by")


@pytest.mark.parametrize(
    ("stage", "begins", "anchor"),
    [
        (Stage.CASTING, "Demould Ada: left hand, right hand", "#mould"),
        (Stage.DRYING, "Weigh Ada: left hand, right hand", "#rack"),
        (Stage.FRAMING, "Frame Ada", "#frames"),
    ],
)
def test_each_station_asks_for_its_own_next_step(unit, stage, begins, anchor):
    makers.job_at(stage, unit)
    planned(unit)
    assert [(item.title, item.url) for item in todays(unit)] == [
        (begins, f"{reverse('production:bench')}{anchor}")
    ]


def test_what_cannot_begin_yet_is_not_asked_for(unit):
    makers.a_job(unit, starts_at=timezone.now() + timedelta(hours=1))
    planned(unit)
    assert todays(unit) == []


def test_a_frame_that_endangers_the_promise_is_late(unit, framing):
    planned(unit)
    in_time = framing.promised_on - timedelta(days=1)
    noon = timezone.now() + (in_time - timezone.localdate())
    assert not todays(unit, noon)[0].why_late
    late = todays(unit, noon + timedelta(days=1))[0]
    assert late.why_late.startswith("Late: promised for")


def test_handing_over_is_left_to_the_till(unit):
    makers.job_at(Stage.READY, unit)
    planned(unit)
    assert todays(unit) == []


def test_the_queries_of_today_do_not_grow(unit, owner, constant_queries):
    makers.job_at(Stage.DRYING, unit)
    constant_queries(lambda: todays(unit), lambda: makers.job_at(Stage.DRYING, unit))


def test_a_job_only_booked_has_no_bench(unit, owner):
    assert 'id="bench"' not in job_page(owner, makers.a_job(unit))


def test_the_job_page_follows_each_piece(unit, owner, on_rack):
    first, second = casts_of(on_rack)
    press(owner, "weigh", first.pk, mass_g="400")
    press(
        owner,
        "spoil_piece",
        second.pk,
        how="break",
        why="fell off the rack",
        print_whole="yes",
    )
    page = job_page(owner, on_rack)
    assert 'id="bench"' in page
    assert "400 g" in page
    assert "Weighed once" in page
    assert "g still to go" in page
    assert "broken: fell off the rack" in page
    assert "in the clay, to be poured by" in page
    assert reverse("production:weigh", args=[first.pk]) in page
    assert reverse("production:pour") in page


@pytest.mark.parametrize(
    ("stage", "offers"),
    [
        (Stage.CLAY_REST, "Mix and pour"),
        (Stage.CASTING, "Demould"),
        (Stage.DRYING, "Weigh"),
        (Stage.FRAMING, "mounted"),
        (Stage.READY, "Take the frame back to the bench"),
    ],
)
def test_the_job_page_offers_the_next_step(unit, owner, stage, offers):
    assert offers in job_page(owner, makers.job_at(stage, unit))


def test_the_job_page_begins_the_frame_when_all_is_dry(owner, on_rack):
    for cast in casts_of(on_rack):
        weighing.release_dry(
            cast, why="it rings", by=owner.user, at=timezone.now(), key=uuid.uuid4()
        )
    page = job_page(owner, on_rack)
    assert "Start framing, behind glass" in page
    assert "Released as dry: “it rings”" in page


def test_an_ended_job_keeps_its_bench_without_buttons(unit, owner):
    page = job_page(owner, makers.job_at(Stage.HANDED_OVER, unit))
    bench = page[page.index('id="bench"') : page.index('id="history"')]
    assert "Give it up" not in bench
    assert "Poured" in bench


def test_the_words_of_a_release_stand_as_they_were_written(owner, unit):
    job = makers.job_at(Stage.DRYING, unit)
    who = {"by": makers.owner_of(unit), "at": timezone.now(), "key": uuid.uuid4()}
    weighing.release_dry(casts_of(job)[0], why="It rings.", **who)
    assert "Released as dry: “It rings.”</p>" in job_page(owner, job)
