"""Ticking off today's sheet on screen: the same list as on paper, each line its own action, all in one go."""

import uuid

import pytest
from django.urls import reverse
from django.utils import timezone

from production.bench import jobs
from production.casts.models import Cast, Plaster, Pour, Weighing
from production.weekly_sheet import tick_off
from studio.stages import Stage
from tests import makers
from tests.production.stores.conftest import FINE, delivery, material
from tests.working import planned

pytestmark = pytest.mark.django_db

TICK = reverse("production:tick_off")


def press(client, *ticked, **written):
    sent = dict.fromkeys(ticked, "on") | written | {"key": str(uuid.uuid4())}
    return client.post(TICK, sent)


def casts(job):
    return list(Cast.objects.filter(piece__job=job))


def tasks_of(unit):
    return tick_off.sheet_of_today(unit, timezone.now()).plan.tasks


def test_the_list_is_that_of_the_paper_in_its_order(unit, owner):
    for stage in (Stage.DRYING, Stage.CLAY_REST, Stage.CASTING):
        makers.job_at(stage, unit)
    planned(unit)
    today = timezone.localdate()
    paper = jobs.week_plan(unit, [today], timezone.now())[0]
    assert tasks_of(unit) == paper.tasks
    page = owner.get(TICK).content.decode()
    told = [page.index(each) for each in ("bucket 1", "Demould </span>Ada", "Weigh </span>Ada")]
    assert told == sorted(told)


def test_what_was_done_is_written_down_in_one_go(unit, owner):
    clay, mould, rack = (
        makers.job_at(stage, unit) for stage in (Stage.CLAY_REST, Stage.CASTING, Stage.DRYING)
    )
    planned(unit)
    pieces = [f"pour-{piece.pk}" for piece in clay.pieces.all()]
    out, weighed = casts(mould)[0], casts(rack)[0]
    written = {f"mass-{out.pk}": "457,5 g", f"mass-{weighed.pk}": "401"}
    key = {"key": str(uuid.uuid4())}
    sent = dict.fromkeys([*pieces, f"out-{out.pk}"], "on") | written | key
    for _ in range(2):  # the same press twice is one
        assert owner.post(TICK, sent).status_code == 302
    clay.refresh_from_db()
    assert clay.stage == Stage.CASTING
    out.refresh_from_db()
    assert out.demoulded_at
    assert sorted(Weighing.objects.values_list("mass_g", flat=True)) == [401, 457.5]
    assert Pour.objects.filter(casts__piece__job=clay).distinct().count() == 1


def test_a_pour_takes_what_its_bucket_says(unit, owner):
    job = makers.job_at(Stage.CLAY_REST, unit)
    planned(unit)
    (bucket,) = tick_off.sheet_of_today(unit, timezone.now()).buckets
    press(owner, *(f"pour-{piece.pk}" for piece in job.pieces.all()))
    pour = Pour.objects.get()
    assert (pour.plaster_g, pour.water_g) == (round(bucket.plaster_g), round(bucket.water_g))


def test_a_pour_is_of_the_usual_plaster_and_takes_of_its_sack(unit, owner):
    """For it the bucket is worked out."""
    facts = {"name": "Fine", "consistency": 70, "density_g_per_ml": 2.7, "purity_percent": 98}
    usual = Plaster.objects.create(unit=unit, usual=True, **facts)
    sack = material(unit, FINE, plaster=usual)
    delivery(sack, 25_000, 2199)
    job = makers.job_at(Stage.CLAY_REST, unit)
    planned(unit)
    press(owner, *(f"pour-{piece.pk}" for piece in job.pieces.all()))
    pour = Pour.objects.get()
    assert pour.plaster == usual
    assert -sum(job.stock_moves.values_list("quantity", flat=True)) == pour.plaster_g


def test_a_frame_is_begun_and_ticked_from_the_list(unit, owner):
    job = makers.job_at(Stage.DRYING, unit)
    from production.bench import weighing  # noqa: PLC0415

    for cast in casts(job):
        who = {"by": owner.user, "at": timezone.now(), "key": uuid.uuid4()}
        weighing.release_dry(cast, why="rings", **who)
    planned(unit)
    steps = [f"frame-{job.reference}-{step}" for step in ("mounted", "closed")]
    assert press(owner, *steps, f"open-{job.reference}").status_code == 302
    job.refresh_from_db()
    assert job.stage == Stage.FRAMING
    assert job.frame.mounted_at
    assert job.frame.closed_at
    assert not job.frame.glazed
    assert not job.frame.backed_at


def test_a_weight_that_cannot_be_read_stops_all_and_stays_written(unit, owner):
    clay, rack = makers.job_at(Stage.CLAY_REST, unit), makers.job_at(Stage.DRYING, unit)
    planned(unit)
    pieces = [f"pour-{piece.pk}" for piece in clay.pieces.all()]
    response = press(owner, *pieces, **{f"mass-{casts(rack)[0].pk}": "wet"})
    page = response.content.decode()
    assert response.status_code == 409
    assert 'value="wet"' in page
    assert "Write the weight in grams" in page
    assert not Weighing.objects.exists()
    clay.refresh_from_db()
    assert clay.stage == Stage.CLAY_REST


def test_one_refusal_keeps_the_others(unit, owner):
    rack = makers.job_at(Stage.DRYING, unit)
    planned(unit)
    first, second = casts(rack)
    press(owner, **{f"mass-{first.pk}": "401"})
    response = press(owner, **{f"mass-{first.pk}": "400", f"mass-{second.pk}": "399"})
    page = response.content.decode()
    assert response.status_code == 409
    assert "no longer on today" in page
    assert Weighing.objects.filter(cast=first).count() == 1
    assert Weighing.objects.filter(cast=second).count() == 1
    # What an action refuses stands beside its line.
    other = casts(makers.job_at(Stage.CASTING, unit))[0]
    planned(unit)
    Cast.objects.filter(pk=other.pk).update(demoulded_at=None)
    response = press(owner, **{f"mass-{other.pk}": "457"})
    assert response.status_code == 409
    assert "still in the mould" in response.content.decode()
    assert 'value="457"' in response.content.decode()


def test_an_empty_day_says_so_and_nothing_ticked_writes_nothing(unit, owner):
    assert "Nothing is due today" in owner.get(TICK).content.decode()
    assert press(owner).status_code == 302
    assert owner.post(TICK, {}).status_code == 409  # a page without its key


def test_another_units_casts_are_not_ticked(unit, stranger):
    rack = makers.job_at(Stage.DRYING, unit)
    assert press(stranger, **{f"mass-{casts(rack)[0].pk}": "401"}).status_code == 409
    assert not Weighing.objects.exists()


def test_a_weight_is_read_as_on_the_scales_own_page():
    written = ["352", "352,5 g", "1,234", "1,234.5 g", "three hundred and fifty two"]
    assert [tick_off.read_grams(each) for each in written] == [352, 352.5, 1234, 1234.5, 352]
    for nothing in ("", "nan", "0", "-3", "51000"):
        with pytest.raises(ValueError, match=r"weight"):
            tick_off.read_grams(nothing)
