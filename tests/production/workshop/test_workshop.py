"""Plasters, tools, the room and the moulds: what they change, and who may change them."""

import uuid
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from production.casts import forecasts, mixes
from production.casts.models import Mould, Plaster, RoomReading, Workshop
from production.workshop import actions
from studio.stages import ActionRefused, Stage
from studio.versions import EditedMeanwhile
from tests import makers
from tests.parts.markup import folded
from tests.production.conftest import casts_of

SHEET = {
    "name": "Fine casting plaster",
    "consistency": 65,
    "density_g_per_ml": 2.7,
    "purity_percent": 98,
    "working_minutes": 12,
    "set_minutes": 32,
    "usual": False,
}

TOOLS = {
    "temperature_c": 19,
    "humidity_percent": 55,
    "air_m_per_s": 0.2,
    "scale_g": 0.1,
    "depth_mm": 25,
    "margin_mm": 15,
    "bucket_ml": 1500,
}


def who(by):
    return {"by": by, "at": timezone.now(), "key": uuid.uuid4()}


def post(client, page, /, *args, **data):
    return client.post(reverse(f"production:{page}", args=args), data)


def test_the_first_plaster_is_the_usual_one_and_a_mix_follows_it(owner, unit, in_clay):
    piece, today = in_clay.pieces.first(), timezone.localdate()
    before = mixes.mix_of(piece, mixes.mixing_of(unit), today)
    assert post(owner, "add_plaster", version=1, **SHEET).status_code == 302
    plaster = unit.plasters.get()
    assert plaster.usual
    again = type(unit).objects.get(pk=unit.pk)
    after = mixes.mix_of(piece, mixes.mixing_of(again), today)
    assert after.volume_ml == pytest.approx(before.volume_ml)
    assert after.water_g / after.plaster_g == pytest.approx(0.65)


def test_another_one_made_usual_takes_the_first_ones_place(unit):
    first = actions.add_plaster(unit, facts=SHEET)
    second = actions.add_plaster(unit, facts={**SHEET, "name": "Stone", "usual": True})
    first.refresh_from_db()
    assert (first.usual, second.usual) == (False, True)
    with pytest.raises(ActionRefused, match="already"):
        actions.add_plaster(unit, facts={**SHEET, "name": "stone"})
    with pytest.raises(ActionRefused, match="make another one usual"):
        actions.edit_plaster(second, facts={**SHEET, "name": "Stone"}, seen_version=1)
    with pytest.raises(ActionRefused, match="make another one usual first"):
        actions.put_plaster_away(second, at=timezone.now())


def test_a_plaster_that_was_put_away_is_offered_no_more(owner, unit):
    actions.add_plaster(unit, facts=SHEET)
    other = actions.add_plaster(unit, facts={**SHEET, "name": "Stone"})
    for _ in range(2):
        assert post(owner, "put_plaster_away", other.pk, key=uuid.uuid4()).status_code == 302
    assert [each.name for each in unit.plasters.in_use()] == ["Fine casting plaster"]
    assert owner.get(reverse("production:edit_plaster", args=[other.pk])).status_code == 404


def test_the_second_of_two_people_is_told(owner, unit):
    plaster = actions.add_plaster(unit, facts=SHEET)
    actions.edit_plaster(
        Plaster.objects.get(), facts={**SHEET, "usual": True, "set_minutes": 30}, seen_version=1
    )
    with pytest.raises(EditedMeanwhile):
        actions.edit_plaster(plaster, facts={**SHEET, "usual": True}, seen_version=1)
    page = post(owner, "edit_plaster", plaster.pk, version=1, **{**SHEET, "usual": "on"})
    assert page.status_code == 409


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"consistency": 15}, "between 20 and 120"),
        ({"density_g_per_ml": 1}, "between 2 and 3"),
        ({"purity_percent": 40}, "between 50 and 100"),
        ({"set_minutes": 10}, "sets after it can no longer be poured"),
    ],
)
def test_figures_that_cannot_be_come_back_filled(owner, unit, wrong, words):
    page = post(owner, "add_plaster", version=1, **{**SHEET, **wrong})
    assert page.status_code == 422
    assert words in folded(page.content.decode())
    assert not unit.plasters.exists()


def test_tools_change_the_slab_and_the_forecast(owner, unit, on_rack):
    cast = casts_of(on_rack)[0]
    before = cast.dry_likely_at
    assert post(owner, "edit_workshop", version=1, **TOOLS).status_code == 302
    cast.refresh_from_db()
    assert cast.dry_likely_at > before, "thicker, and in damper air"
    page = post(owner, "edit_workshop", version=1, **TOOLS)
    assert page.status_code == 409
    assert Workshop.objects.get(unit=unit).depth_mm == 25


def test_a_reading_moves_the_days_on_the_rack(owner, unit):
    on_rack = makers.job_at(Stage.DRYING, unit, at=timezone.now() + timedelta(days=7))
    cast, key = casts_of(on_rack)[0], uuid.uuid4()
    before = cast.dry_likely_at
    for _ in range(2):
        said = {"temperature_c": "15,5 °C", "humidity_percent": "seventy two", "key": key}
        assert post(owner, "read_room", **said).status_code == 302
    read = RoomReading.objects.get()
    assert (read.temperature_c, read.humidity_percent) == (15.5, 72)
    cast.refresh_from_db()
    assert cast.dry_likely_at > before


def test_a_room_that_turns_damp_slows_what_is_left_and_not_what_is_gone(unit):
    on_rack = makers.job_at(Stage.DRYING, unit, at=timezone.now() + timedelta(days=4))
    cast, by = casts_of(on_rack)[0], makers.owner_of(unit)
    out_at, usual_at = cast.demoulded_at, cast.dry_likely_at
    now = out_at + (usual_at - out_at) / 2
    damp = {"temperature_c": 15, "humidity_percent": 80}
    actions.read_room(unit, **damp, **{**who(by), "at": now})
    cast.refresh_from_db()
    turned = cast.dry_likely_at
    assert usual_at < turned
    actions.read_room(unit, **damp, **{**who(by), "at": out_at})
    cast.refresh_from_db()
    assert turned < cast.dry_likely_at, "damp from the first day on is slower still"


def test_an_old_reading_says_nothing_of_today(unit):
    by, now = makers.owner_of(unit), timezone.now()
    actions.read_room(
        unit, temperature_c=15, humidity_percent=70, **{**who(by), "at": now - timedelta(days=4)}
    )
    assert forecasts.room_now(unit, now).reading is None
    assert forecasts.room_now(unit, now).room.temperature_c == 20
    actions.read_room(unit, temperature_c=15, humidity_percent=70, **who(by))
    assert forecasts.room_now(unit, timezone.now()).room.temperature_c == 15


def test_air_that_spoils_casts_is_refused_and_air_that_is_close_is_warned_of(owner, unit, on_rack):
    page = post(owner, "read_room", temperature_c=50, humidity_percent=20, key=uuid.uuid4())
    assert page.status_code == 409
    assert "bound water" in folded(page.content.decode())
    assert not RoomReading.objects.exists()
    post(owner, "read_room", temperature_c=46, humidity_percent=20, key=uuid.uuid4())
    assert "close to where plaster spoils" in folded(
        owner.get(reverse("production:rack")).content.decode()
    )


def test_a_room_in_which_nothing_dries_says_so(owner, unit, on_rack):
    post(owner, "read_room", temperature_c=12, humidity_percent=97, key=uuid.uuid4())
    assert "nothing will ever be dry" in folded(
        owner.get(reverse("production:rack")).content.decode()
    )


def test_a_measured_mould_is_mixed_for_as_it_is(owner, unit, in_clay):
    piece, key = in_clay.pieces.first(), uuid.uuid4()
    said = {"outline": "oval", "length_mm": 120, "width_mm": 100, "depth_mm": 20, "key": key}
    for _ in range(2):
        assert post(owner, "measure_mould", piece.pk, **said).status_code == 302
    assert in_clay.events.filter(what="measure_mould").count() == 1
    fresh = type(piece).objects.get(pk=piece.pk)
    volume_ml = mixes.volume_ml(fresh, mixes.mixing_of(unit), timezone.localdate())
    assert volume_ml == pytest.approx(188.5, abs=0.05)


def test_a_poured_mould_can_no_longer_be_measured(owner, in_mould):
    piece = in_mould.pieces.first()
    said = {"outline": "oval", "length_mm": 120, "width_mm": 100, "depth_mm": 20}
    page = post(owner, "measure_mould", piece.pk, **said, key=uuid.uuid4())
    assert page.status_code == 409
    assert "poured already" in folded(page.content.decode())
    assert not Mould.objects.exists()


def test_what_is_left_over_teaches_the_next_mix(unit, in_clay):
    from production.bench.actions import pour  # noqa: PLC0415

    pieces, today = list(in_clay.pieces.all()), timezone.localdate()
    foreseen = mixes.predicted_mix(pieces, mixes.mixing_of(unit), today)
    mixed = {"plaster_g": round(foreseen.plaster_g), "water_g": round(foreseen.water_g)}
    left_g = round(foreseen.fresh_g * 0.2)
    pour(unit, pieces=pieces, **mixed, consistency=70, left_g=left_g, **who(makers.owner_of(unit)))
    fill = mixes.learnt_fill(unit)
    assert fill.pours == 1
    assert 0.9 < fill.factor < 1, "one pour with a fifth left over moves it part of the way"


def test_more_left_over_than_mixed_is_refused(owner, in_clay):
    page = post(
        owner,
        "pour",
        asked="1",
        pieces=[piece.pk for piece in in_clay.pieces.all()],
        plaster_g=500,
        water_g=350,
        left_g=900,
        key=uuid.uuid4(),
    )
    assert page.status_code == 422
    assert "less than the 850 g" in folded(page.content.decode())


def test_the_card_says_what_the_rest_of_a_bag_makes(owner, in_clay):
    asked = {"asked": "1", "pieces": in_clay.pieces.first().pk, "bag_g": "840 g"}
    page = folded(owner.get(reverse("production:pour"), asked).content.decode())
    assert "588 g of water" in page
    assert "fill 899 ml" in page
    asked["bag_g"] = "100"
    assert "Not enough" in folded(owner.get(reverse("production:pour"), asked).content.decode())


@pytest.mark.parametrize(
    "name", ["workshop", "add_plaster", "edit_workshop"], ids=lambda name: name
)
def test_a_helper_does_not_set_up_the_bench(helper, name):
    assert helper.get(reverse(f"production:{name}")).status_code == 403


def test_put_away_is_a_press(owner, unit):
    plaster = actions.add_plaster(unit, facts=SHEET)
    assert owner.get(reverse("production:put_plaster_away", args=[plaster.pk])).status_code == 405
