"""At the scale: slips are refused with a sentence, the trap of constant weight, the owner's word."""

import uuid
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from production.bench import actions, weighing
from production.casts import forecasts, pieces
from production.casts.models import Cast, Weighing
from studio.stages import ActionRefused, MoveRefused, Stage, missing
from tests import makers
from tests.production.conftest import casts_of, press
from tests.working import planned

# Day by day, as a cast of this mix dries.
DRIES = ((0, 457), (2, 381), (4, 333), (7, 319.8), (8, 319.4), (9, 319.3))


@pytest.fixture
def by(owner):
    return owner.user


@pytest.fixture
def cast(by, in_mould):
    """Out of the mould ten days ago, of a mix of 538 g and 377 g in two pieces."""
    found = casts_of(in_mould)[0]
    at = timezone.now() - timedelta(days=10)
    return actions.demould(found, by=by, at=at, key=uuid.uuid4())


def weigh(cast, by, mass_g, days=0.0, **more):
    """Weighed so many days after it came out of the mould."""
    at = cast.demoulded_at + timedelta(days=days)
    return weighing.weigh(cast, mass_g=mass_g, by=by, at=at, key=uuid.uuid4(), **more)


def is_dry(cast):
    return Cast.objects.get(pk=cast.pk).dry_at is not None


def test_a_cast_is_dry_when_the_scale_agrees_with_the_mix(by, cast):
    for days, mass_g in ((0, 457), (3, 372), (7, 321), (8, 319.5)):
        weigh(cast, by, mass_g, days)
        assert not is_dry(cast)
    weigh(cast, by, 319.3, 9)
    assert is_dry(cast)


def test_constant_but_still_wet_is_not_dry(by, cast):
    """The trap: under 0.1 % a day, and 30 g of water left by the mix."""
    for days, mass_g in ((0, 457), (7, 350), (8, 349.9), (9, 349.8), (10, 349.7)):
        weigh(cast, by, mass_g, days)
    assert not is_dry(cast)
    cast = Cast.objects.get(pk=cast.pk)
    said = pieces.judge_cast(cast, pieces.valid_weighings(cast), 0.5).sentence
    assert "31 g of water are left by the mix" in said


def test_a_weight_of_the_second_day_is_no_fresh_weight(by, cast):
    """Without a fresh weight the mix cannot confirm: two days of steadiness are asked for."""
    weigh(cast, by, 319.4, 8)
    weigh(cast, by, 319.3, 9)
    assert not is_dry(cast)
    weigh(cast, by, 319.3, 10)
    assert is_dry(cast)


def test_a_cast_that_got_wet_again_is_no_longer_dry(by, cast):
    for days, mass_g in DRIES:
        weigh(cast, by, mass_g, days)
    assert is_dry(cast)
    weigh(cast, by, 340, 10, heavier_why="rain through the window")
    assert not is_dry(cast)


@pytest.mark.parametrize("mass_g", [0, -3, 50_000, float("nan")])
def test_a_weight_that_cannot_be_is_refused(by, cast, mass_g):
    with pytest.raises(ActionRefused, match="above 0 g and below 50 kg"):
        weigh(cast, by, mass_g)
    assert not Weighing.objects.exists()


@pytest.mark.parametrize(
    ("mass_g", "says"),
    [
        (402, "402 g is heavier than 400 g on"),
        (199, "less than half of 400 g on"),
        (2000, r"2\.00 kg is more than the 915 g that were poured"),
    ],
)
def test_an_odd_weight_asks_for_its_reason_and_is_taken_with_it(by, cast, mass_g, says):
    weigh(cast, by, 400, 1)
    with pytest.raises(ActionRefused, match=says):
        weigh(cast, by, mass_g, 2)
    assert weigh(cast, by, mass_g, 2, heavier_why="it stood in the sink").mass_g == mass_g


def test_a_rise_within_the_scale_s_error_is_no_rise(by, cast):
    weigh(cast, by, 400, 1)
    assert weigh(cast, by, 401, 2)


def test_a_slip_is_struck_out_and_counts_no_more(by, cast):
    weigh(cast, by, 457)
    slip = weigh(cast, by, 350, 1)
    facts = {"by": by, "at": timezone.now()}
    with pytest.raises(ActionRefused, match="what was wrong"):
        weighing.strike_weighing(slip, why=" ", key=uuid.uuid4(), **facts)
    weighing.strike_weighing(slip, why="the other hand", key=uuid.uuid4(), **facts)
    assert weigh(cast, by, 420, 2), "420 g is no rise: 350 g does not count"
    readings = pieces.weighing_history(Cast.objects.get(pk=cast.pk))
    assert [round(r.loss_g_per_day or 0, 1) for r in readings] == [0, 0, 18.5]
    assert readings[1].row.struck_why == "the other hand"
    with pytest.raises(MoveRefused, match="struck out already"):
        weighing.strike_weighing(slip, why="again", key=uuid.uuid4(), **facts)


def test_striking_out_the_weight_that_made_it_dry_makes_it_damp(by, cast):
    for days, mass_g in DRIES:
        last = weigh(cast, by, mass_g, days)
    assert is_dry(cast)
    weighing.strike_weighing(last, why="a slip", by=by, at=timezone.now(), key=uuid.uuid4())
    assert not is_dry(cast)


def test_the_owner_s_word_opens_the_gate_and_no_weight_takes_it_back(by, on_rack):
    first, second = casts_of(on_rack)
    facts = {"by": by, "at": timezone.now()}
    with pytest.raises(ActionRefused, match="Write why"):
        weighing.release_dry(first, why="", key=uuid.uuid4(), **facts)
    weighing.release_dry(first, why="it rings", key=uuid.uuid4(), **facts)
    assert missing(on_rack, Stage.FRAMING) == ["Not dry yet: Ada, right hand."]
    weighing.weigh(first, mass_g=400, key=uuid.uuid4(), **facts)
    assert is_dry(first)
    with pytest.raises(MoveRefused, match="dry already"):
        weighing.release_dry(first, why="again", key=uuid.uuid4(), **facts)
    weighing.release_dry(second, why="it rings too", key=uuid.uuid4(), **facts)
    assert not missing(on_rack, Stage.FRAMING)


def test_days_to_dry_for_the_family(by, on_rack):
    today = timezone.localdate()
    assert forecasts.days_to_dry(on_rack, today) == 1, "late, and not dry: a day at least"
    early = today - timedelta(days=10)
    likely_on = max(forecasts.stored_interval(cast).likely_on for cast in casts_of(on_rack))
    assert 5 <= (likely_on - _out_on(on_rack)).days <= 9, "about a week"
    assert forecasts.days_to_dry(on_rack, early) == (likely_on - early).days
    for cast in casts_of(on_rack):
        weighing.release_dry(cast, why="rings", by=by, at=timezone.now(), key=uuid.uuid4())
    assert forecasts.days_to_dry(on_rack, today) == 0


def _out_on(job):
    return timezone.localdate(casts_of(job)[0].demoulded_at)


def test_days_to_dry_is_said_only_of_a_job_that_dries(in_clay, framing):
    today = timezone.localdate()
    assert forecasts.days_to_dry(in_clay, today) is None
    assert forecasts.days_to_dry(framing, today) is None


@pytest.mark.parametrize(
    ("written", "says"),
    [
        ("", "Write what the scale shows."),
        ("heavy", "Write the weight in grams"),
        ("0", "above 0 g"),
        ("-5", "above 0 g"),
        ("nan", "above 0 g"),
        ("99999", "below 50 kg"),
    ],
)
def test_a_bad_weight_comes_back_filled_with_a_sentence(owner, cast, written, says):
    answer = press(owner, "weigh", cast.pk, mass_g=written)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert says in page
    assert not written or f'value="{written}"' in page
    assert not Weighing.objects.exists()


@pytest.mark.parametrize("written", ["352.5", "352,5", " 352.5 g ", "352.5g"])
def test_a_weight_is_read_however_it_is_typed(owner, cast, written):
    assert press(owner, "weigh", cast.pk, mass_g=written).status_code == 302
    assert Weighing.objects.get().mass_g == 352.5


def test_a_rising_weight_asks_for_the_reason_on_the_page(owner, by, cast):
    weigh(cast, by, 400, 1)
    answer = press(owner, "weigh", cast.pk, mass_g="430")
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "heavier than 400 g" in page
    assert 'name="heavier_why"' in page
    assert 'value="430"' in page
    again = press(owner, "weigh", cast.pk, mass_g="430", heavier_why="it got wet")
    assert again.status_code == 302


def test_the_scale_goes_along_the_rack_and_then_back_to_the_bench(unit, owner):
    job = makers.job_at(Stage.DRYING, unit, pieces=3)
    planned(unit)
    for cast, place in zip(casts_of(job), (9, 7, 8), strict=True):
        press(owner, "place_on_rack", cast.pk, place=place)
    third, first, second = casts_of(job)
    page = owner.get(reverse("production:weigh", args=[first.pk])).content.decode()
    assert f'href="{reverse("production:weigh", args=[second.pk])}"' in page
    way = [press(owner, "weigh", cast.pk, mass_g="400").url for cast in (second, third, first)]
    assert way == [
        reverse("production:weigh", args=[third.pk]),
        reverse("production:weigh", args=[first.pk]),
        reverse("production:rack"),
    ]


def test_the_next_page_says_the_weight_that_was_just_written_down(owner, by, cast):
    weigh(cast, by, 457)
    url = reverse("production:weigh", args=[cast.pk])
    answer = owner.post(url, {"mass_g": "400", "key": uuid.uuid4()}, follow=True)
    (said,) = [str(each) for each in answer.context["messages"]]
    assert said.startswith(f"{cast.piece}: 400 g. ")


def test_the_scale_is_where_the_hand_is_unless_something_is_wrong(owner, cast):
    url = reverse("production:weigh", args=[cast.pk])
    field = owner.get(url).content.decode().split('name="mass_g"')[1].split(">")[0]
    assert "autofocus" in field
    refused = owner.post(url, {"mass_g": "", "key": uuid.uuid4()}).content.decode()
    assert "autofocus" in refused.split('role="alert"')[1].split(">")[0]
    assert refused.count("autofocus") == 1


def test_the_page_shows_what_to_expect(owner, by, cast):
    url = reverse("production:weigh", args=[cast.pk])
    # 915 g in two pieces: 457.5 g fresh, 0.6978 of it dry.
    assert "Expected: 319 g to 458 g" in owner.get(url).content.decode()
    weigh(cast, by, 457)
    weigh(cast, by, 400, 1)
    assert "Expected: 319 g to 400 g" in owner.get(url).content.decode()


def test_a_cast_that_was_given_up_can_be_read_and_not_weighed(owner, by, cast):
    actions.spoil_piece(
        cast,
        how="break",
        why="fell",
        print_whole=True,
        by=by,
        at=timezone.now(),
        key=uuid.uuid4(),
    )
    page = owner.get(reverse("production:weigh", args=[cast.pk]))
    assert page.status_code == 200
    assert 'name="mass_g"' not in page.content.decode()
