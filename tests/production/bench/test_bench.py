"""The pages of the bench: what they show, empty and full, with a constant number of queries."""

import uuid
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from bookings.sittings.models import ClayPrint, Sitting
from orders.order_page.actions import call_off
from production.bench import jobs as bench_jobs
from production.bench import page as bench_page
from production.bench import weighing as bench_weighing
from production.casts import forecasts, mixes
from production.casts.models import Cast, Pour, Weighing
from studio import units
from studio.jobs.models import Job, Piece
from studio.stages import Stage
from tests import makers
from tests.parts.markup import faults, folded
from tests.production.conftest import casts_of, press
from tests.working import planned

WEEK = units.parse_week("2026-W48")

STATIONS = (Stage.CLAY_REST, Stage.CASTING, Stage.DRYING, Stage.FRAMING, Stage.READY)


def page_of(client, name, *args, **query):
    answer = client.get(reverse(f"production:{name}", args=args), query)
    assert answer.status_code == 200
    page = folded(answer.content.decode())
    assert not faults(page)
    return page


def one_at_each(unit, at=None):
    return [makers.job_at(stage, unit, at=at) for stage in STATIONS]


@pytest.fixture
def full(unit):
    return one_at_each(unit)


@pytest.mark.parametrize("name", ["bench", "pour"])
def test_an_empty_bench_says_what_will_appear(owner, name):
    page = page_of(owner, name)
    assert 'class="empty"' in page
    assert 'name="pieces"' not in page


def test_the_bench_shows_every_station_and_its_next_step(owner, full):
    clay, mould, rack, frame, _ready = full
    page = page_of(owner, "bench")
    for job in (clay, mould, rack, frame):
        assert job.display_reference in page
    assert reverse("production:pour") in page
    for cast in casts_of(mould):
        assert reverse("production:demould", args=[cast.pk]) in page
    for cast in casts_of(rack):
        assert reverse("production:weigh", args=[cast.pk]) in page
    assert reverse("production:tick_frame", args=[frame.reference]) in page
    assert "2 of 24 places taken" in page
    assert page.count("rack__place--free") == 22


def test_clay_past_its_hour_is_late_with_the_reason(unit, owner, in_clay):
    planned(unit)
    page = page_of(owner, "bench")
    assert "the clay is drying: it was to be poured by" in page
    assert "late: the clay was to be poured by" in page


def test_the_rack_says_which_pieces_are_to_be_weighed_today(unit, owner, on_rack):
    planned(unit)
    first, second = casts_of(on_rack)
    assert page_of(owner, "bench").count("weigh today") == 2
    press(owner, "weigh", first.pk, mass_g="400")
    page = page_of(owner, "bench")
    assert page.count("weigh today") == 1
    first.refresh_from_db()
    assert f"{forecasts.stored_interval(first).words(timezone.localdate())}<" in page
    assert "last 400 g" in page
    press(owner, "release_dry", second.pk, why="it rings")
    assert "rack__place--dry" in page_of(owner, "bench")


def test_a_job_whose_casts_are_dry_offers_its_frame(owner, on_rack):
    assert "Start framing" not in page_of(owner, "bench")
    for cast in casts_of(on_rack):
        press(owner, "release_dry", cast.pk, why="it rings")
    page = page_of(owner, "bench")
    assert "Start framing, behind glass" in page
    assert "Start framing, left open" in page


def test_a_smaller_rack_still_shows_what_lies_beyond_it(unit, on_rack):
    unit.rack_places = 1
    unit.save()
    bench = bench_page.bench(unit, timezone.now())
    assert [place.number for place in bench.places] == [1, 2]


def test_what_belongs_to_others_is_not_on_the_bench(owner, stranger, full):
    page = page_of(stranger, "bench")
    assert not [job for job in full if job.display_reference in page]


def test_a_called_off_job_is_off_the_bench(unit, owner, on_rack):
    call_off(
        on_rack,
        seen=Stage.DRYING,
        keep_minor=0,
        why="They moved away.",
        by=owner.user,
        at=timezone.now(),
        key=uuid.uuid4(),
    )
    bench = bench_page.bench(unit, timezone.now())
    assert (bench.taken, bench.damp, bench.beside) == (0, [], ())
    assert not unit.casts.with_place().exists()


@pytest.mark.parametrize("name", ["bench", "week", "pour"])
def test_the_number_of_queries_does_not_grow_with_the_jobs(unit, owner, constant_queries, name):
    args = [units.week_of(timezone.localdate())] if name == "week" else []
    url = reverse(f"production:{name}", args=args)

    def grow():
        for _ in range(3):
            one_at_each(unit)

    one_at_each(unit)
    constant_queries(lambda: owner.get(url), grow)


def test_ten_jobs_and_two_hundred_take_the_same_queries(unit, django_assert_num_queries):
    """The reads themselves, on rows made without ceremony."""
    many_jobs(unit, 10)
    now = timezone.now()
    few = count_of(lambda: (bench_page.bench(unit, now), bench_jobs.week_plan(unit, WEEK, now)))
    many_jobs(unit, 190)
    with django_assert_num_queries(few):
        bench = bench_page.bench(unit, now)
        bench_jobs.week_plan(unit, WEEK, now)
    assert len(bench.damp) == 200


def count_of(load):
    with CaptureQueriesContext(connection) as seen:
        load()
    assert len(seen)
    return len(seen)


def many_jobs(unit, number):
    """Jobs with one damp piece each, as rows."""
    family = unit.families.first() or makers.a_family(unit)
    child, by, at = family.children.first(), makers.owner_of(unit), timezone.now()
    start = unit.jobs.count()
    jobs = Job.objects.bulk_create(
        Job(unit=unit, family=family, reference=f"{start + n:08}", stage=Stage.DRYING)
        for n in range(number)
    )
    pieces = Piece.objects.bulk_create(Piece(job=j, child=child, limb="left_hand") for j in jobs)
    sittings = Sitting.objects.bulk_create(
        Sitting(unit=unit, job=j, starts_at=at, ends_at=at + timedelta(hours=1), state="done")
        for j in jobs
    )
    ClayPrint.objects.bulk_create(
        ClayPrint(sitting=s, piece=p, outcome="taken", taken_at=at)
        for s, p in zip(sittings, pieces, strict=True)
    )
    pour = Pour.objects.create(
        unit=unit, poured_at=at, consistency=70, plaster_g=269, water_g=188, by=by
    )
    casts = Cast.objects.bulk_create(
        Cast(unit=unit, piece=p, pour=pour, demoulded_at=at) for p in pieces
    )
    Weighing.objects.bulk_create(Weighing(cast=c, at=at, mass_g=457, by=by) for c in casts)


def test_the_pour_page_proposes_what_the_ticked_pieces_take(unit, owner, in_clay):
    first, second = in_clay.pieces.all()
    today = timezone.localdate()
    one = mixes.mix_of(first, mixes.mixing_of(unit), today)
    page = page_of(owner, "pour")
    assert page.count(" checked") == 2
    assert f'value="{round(2 * one.plaster_g)}"' in page
    page = page_of(owner, "pour", asked=1, pieces=second.pk)
    assert page.count(" checked") == 1
    assert f'value="{round(one.plaster_g)}"' in page
    assert f'value="{round(one.water_g)}"' in page
    page = page_of(owner, "pour", asked=1)
    assert "Tick a piece" in page


def test_the_mix_alone_answers_htmx(owner, in_clay):
    url = reverse("production:pour")
    part = folded(owner.get(url, {"asked": 1}, headers={"hx-request": "true"}).content.decode())
    assert 'id="mix"' in part
    assert "<html" not in part


def test_the_pour_page_warns_before_it_asks(owner, in_clay):
    page = page_of(owner, "pour")
    caution, form = page.index("Plaster never touches skin"), page.index('name="plaster_g"')
    assert caution < form
    assert "child is away from the table" in page
    assert "data sheet" in page


@pytest.mark.parametrize(
    ("sends", "says"),
    [
        ({"plaster_g": ""}, "still needed"),
        ({"plaster_g": "0"}, "The plaster must weigh above 0 g."),
        ({"water_g": "-3"}, "The water must weigh above 0 g."),
        ({"water_g": "2000"}, "500 parts of water to 100 of plaster"),
        ({"plaster_g": "60000", "water_g": "42000"}, "at most 50 kg"),
        ({"pieces": []}, "Tick at least one piece"),
    ],
)
def test_a_bad_mix_comes_back_filled(owner, in_clay, sends, says):
    pieces = [piece.pk for piece in in_clay.pieces.all()]
    sent = {"pieces": pieces, "plaster_g": "400", "water_g": "280", "note": "new sack", **sends}
    answer = press(owner, "pour", **sent)
    page = folded(answer.content.decode())
    assert answer.status_code == 422
    assert says in page
    assert 'value="new sack"' in page
    assert page.count(" checked") == len(sent["pieces"])
    assert not faults(page)


def test_what_was_really_weighed_out_is_what_is_written(unit, owner, in_clay):
    pieces = [piece.pk for piece in in_clay.pieces.all()]
    press(owner, "pour", pieces=pieces, plaster_g="400", water_g="260", note="stiff")
    poured = unit.pours.get()
    assert (poured.plaster_g, poured.water_g, poured.consistency) == (400, 260, 65)


def test_every_small_page_is_sound(unit, owner, on_rack, ready):
    cast = casts_of(on_rack)[0]
    weighing = bench_weighing.weigh(
        cast, mass_g=400, by=owner.user, at=timezone.now(), key=uuid.uuid4()
    )
    page_of(owner, "weigh", cast.pk)
    page_of(owner, "strike_weighing", weighing.pk)
    page_of(owner, "place_on_rack", cast.pk)
    page_of(owner, "release_dry", cast.pk)
    page_of(owner, "spoil_piece", cast.pk)
    page_of(owner, "reopen_frame", ready.reference)


def test_the_week_shows_its_days_from_today_on(unit, owner, in_clay):
    planned(unit)
    week = units.week_of(timezone.localdate())
    page = page_of(owner, "week", week)
    assert in_clay.display_reference in page
    assert reverse("production:weekly_sheet", args=[week]) in page
    for plan in bench_jobs.week_plan(unit, units.parse_week(week), timezone.now()):
        if plan.on >= timezone.localdate():
            assert f'id="{plan.on:%Y-%m-%d}"' in page


def test_a_week_gone_by_says_so(owner, in_clay):
    page = page_of(owner, "week", "2020-W53")
    assert "This week is over" in page
    assert in_clay.display_reference not in page


@pytest.mark.parametrize("week", ["2026-W54", "2025-W53", "2026-48", "next", "2026-W00"])
@pytest.mark.parametrize("name", ["week", "weekly_sheet"])
def test_a_week_that_does_not_exist_is_not_found_with_a_sentence(owner, name, week):
    answer = owner.get(reverse(f"production:{name}", args=[week]))
    assert answer.status_code == 404
    assert "week" in folded(answer.content.decode())
    assert "Open this week" in folded(answer.content.decode())


@pytest.mark.parametrize("week", ["0001-W01", "9999-W51"])
def test_the_ends_of_the_calendar_have_a_page(owner, week):
    page_of(owner, "week", week)


def test_this_week_leads_to_the_week(owner):
    answer = owner.get(reverse("production:this_week"))
    week = units.week_of(timezone.localdate())
    assert answer.url == reverse("production:week", args=[week])


def test_a_piece_waits_by_its_own_hours(unit, in_clay):
    piece = bench_page.bench(unit, timezone.now()).clay[0]
    assert piece.pour_by == piece.print.taken_at + timedelta(hours=unit.clay_rest_hours)
    for hours, words in ((3, "3 h"), (71, "71 h"), (80, "3 days")):
        later = bench_page.bench(unit, piece.print.taken_at + timedelta(hours=hours))
        assert later.clay_by_job[0].waits == words
