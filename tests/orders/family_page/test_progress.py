"""The family's words: each stage, each way back, every day; never a code and never a weight."""

import re
from datetime import date, datetime, timedelta
from typing import get_args
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.family_page import progress
from orders.family_page.progress import Change, Facts, Sitting
from orders.order import price_explanations
from studio.jobs.stage_strip import stage_strip
from studio.stages import Stage
from tests.brackets import reading_brackets, untranslated

TODAY = date(2026, 11, 25)

LONDON = ZoneInfo("Europe/London")

WAY = list(progress.STEPS)

days = st.dates(date(2024, 1, 1), date(2032, 12, 31))

stages = st.sampled_from(get_args(progress.Stage))

places = st.sampled_from(get_args(progress.Place))

sittings = st.builds(
    Sitting,
    starts_at=st.datetimes(timezones=st.just(LONDON)),
    minutes=st.integers(5, 240),
    place=places,
)

facts = st.builds(
    Facts,
    stage=stages,
    since=days,
    came_from=st.none() | stages,
    sitting=st.none() | sittings,
    days_to_go=st.none() | st.integers(1, 60),
)


def sitting_on(day, place="home"):
    return Sitting(datetime(day.year, day.month, day.day, 10, 30, tzinfo=LONDON), 45, place)


def where(stage, **more):
    return progress.status(Facts(stage=stage, since=TODAY, **more), TODAY)


def test_it_knows_every_stage_of_a_job():
    assert set(get_args(progress.Stage)) == set(Stage.values)
    assert set(WAY) == set(Stage.values) - {"called_off"}


@pytest.mark.parametrize(
    ("stage", "more", "heading"),
    [
        ("booked", {}, "No day for the sitting yet"),
        (
            "booked",
            {"sitting": sitting_on(date(2026, 12, 3))},
            "The sitting is on Thu 3 Dec at 10:30",
        ),
        ("booked", {"sitting": sitting_on(TODAY)}, "The sitting is today, Wed 25 Nov, at 10:30"),
        (
            "booked",
            {"sitting": sitting_on(date(2026, 11, 26))},
            "The sitting is tomorrow, Thu 26 Nov, at 10:30",
        ),
        ("booked", {"sitting": sitting_on(date(2026, 11, 24))}, "The sitting was on Tue 24 Nov"),
        ("booked", {"came_from": "drying"}, "Another sitting is needed"),
        ("clay_rest", {"came_from": "booked"}, "In the clay"),
        ("clay_rest", {"came_from": "drying"}, "To be poured again"),
        ("casting", {}, "In plaster"),
        ("drying", {"days_to_go": 4}, "Drying: about 4 more days"),
        ("drying", {"days_to_go": 1}, "Drying: about 1 more day"),
        ("drying", {"days_to_go": 60}, "Drying: some weeks more"),
        ("drying", {}, "Dry: framing comes next"),
        ("drying", {"days_to_go": 4, "stopped": True}, "The work has stopped"),
        ("framing", {}, "Being framed"),
        ("ready", {}, "Ready to come home"),
        ("handed_over", {}, "Home since Wed 25 Nov"),
        ("called_off", {}, "Called off on Wed 25 Nov"),
    ],
)
def test_where_the_casts_are(stage, more, heading):
    assert where(stage, **more).heading == heading


def test_a_sitting_says_its_place_and_never_an_address():
    assert "at your home" in where("booked", sitting=sitting_on(TODAY)).sentence
    assert "at the studio" in where("booked", sitting=sitting_on(TODAY, "studio")).sentence
    assert "we agreed" in where("booked", sitting=sitting_on(TODAY, "elsewhere")).sentence


def test_a_print_to_be_taken_again_is_said_before_its_new_sitting():
    again = where("booked", came_from="casting", sitting=sitting_on(TODAY))
    assert again.sentence.startswith("A print did not last")
    assert not where("booked", sitting=sitting_on(TODAY)).sentence.startswith("A print")


@given(facts, days)
def test_words_are_for_people(known, today):
    said = progress.status(known, today)
    for text in (said.heading, said.sentence):
        assert text.strip() == text != ""
        assert "_" not in text
        assert "{" not in text
        assert not re.search(r"\d\s?(g|kg|mm)\b", text)
    assert said.sentence.endswith(".")
    assert not set(said.heading.lower().split()) & {"clay_rest", "casting", "handed_over", "none"}


@given(stages, st.dictionaries(st.sampled_from(WAY), days))
def test_the_strip_is_done_then_now_then_ahead(stage, reached):
    steps = stage_strip(stage, progress.STEPS, reached, ends=True)
    states = [step.state for step in steps]
    if stage == "called_off":
        assert set(states) <= {"done"}
        assert [step.label for step in steps] == [
            progress.STEPS[each] for each in WAY if each in reached
        ]
        return
    assert [step.label for step in steps] == list(progress.STEPS.values())
    assert states == sorted(states, key=["done", "now", "ahead"].index)
    assert states.count("now") == (0 if stage == "handed_over" else 1)
    assert all(step.day is None for step in steps if step.state == "ahead")


@pytest.mark.parametrize("stage", ["booked", "clay_rest", "casting", "drying", "framing"])
def test_a_promise_kept_broken_and_put_off(stage):
    def said(on, change=None):
        return progress.promise(on, stage, change, TODAY)

    on_time = said(date(2026, 12, 3))
    assert (on_time.heading, on_time.sentence, on_time.late) == (
        "Promised for Thu 3 Dec",
        "",
        False,
    )
    assert not said(TODAY).late
    late = said(TODAY - timedelta(days=1))
    assert late.late
    assert late.sentence.startswith("We promised Tue 24 Nov and are late.")
    put_off = said(
        date(2026, 12, 3),
        Change(date(2026, 11, 20), date(2026, 12, 3), "The week was too damp"),
    )
    assert put_off.heading == "Now promised for Thu 3 Dec"
    assert put_off.sentence == (
        "We promised Fri 20 Nov and are late. The reason: The week was too damp. We are sorry."
    )
    assert put_off.late
    in_time = said(date(2026, 12, 3), Change(date(2026, 11, 30), date(2026, 12, 3), "Frost."))
    assert in_time.sentence == (
        "We promised Mon 30 Nov and need longer. The reason: Frost. We are sorry."
    )
    assert not in_time.late
    sooner = said(date(2026, 12, 3), Change(date(2026, 12, 8), date(2026, 12, 3), "It dried well."))
    assert sooner.sentence == "The day was Tue 8 Dec before. Why it changed: It dried well."


def test_a_reason_that_belongs_to_another_day_is_not_given():
    old = Change(date(2026, 11, 1), date(2026, 11, 20), "Frost.")
    assert "Frost" not in progress.promise(date(2026, 12, 3), "drying", old, TODAY).sentence


@pytest.mark.parametrize("stage", ["ready", "handed_over", "called_off"])
def test_no_promise_is_said_once_it_no_longer_matters(stage):
    assert progress.promise(date(2026, 1, 1), stage, None, TODAY) is None


def test_without_a_promised_day():
    assert not progress.promise(None, "booked", None, TODAY).late


@given(st.text(max_size=30), st.none() | stages, stages, st.booleans())
def test_what_happened_is_words_or_nothing(what, came_from, to, by_family):
    for each in (what, "move"):
        said = progress.event_text(each, came_from or "", to, by_family=by_family)
        assert said == "" or (said.endswith(".") and "_" not in said)


def test_what_happened_tells_forward_from_back():
    assert progress.event_text("move", "clay_rest", "casting", by_family=False) == (
        "The plaster was poured."
    )
    assert "poured again" in progress.event_text("move", "drying", "clay_rest", by_family=False)
    assert progress.event_text("choose_look", "drying", "drying", by_family=True).startswith("You ")
    assert not progress.event_text("choose_look", "drying", "drying", by_family=False).startswith(
        "You "
    )
    assert progress.event_text("make_link", "drying", "drying", by_family=False) == ""


@pytest.fixture
def in_brackets():
    with reading_brackets():
        yield


def is_translated(words):
    return words.startswith("[") and not untranslated(words)


@pytest.mark.parametrize("days_to_go", [None, 1, 9, 90])
@pytest.mark.parametrize(("came_from", "planned"), [(None, sitting_on(TODAY)), ("drying", None)])
@pytest.mark.parametrize("stage", [*WAY, "called_off"])
def test_where_a_job_is_can_be_translated(in_brackets, stage, came_from, planned, days_to_go):
    said = progress.status(Facts(stage, TODAY, came_from, planned, days_to_go), TODAY)
    assert is_translated(said.heading), said.heading
    assert is_translated(said.sentence), said.sentence


@pytest.mark.parametrize("days_off", [-3, 9])
@pytest.mark.parametrize("before", [None, TODAY - timedelta(days=20), TODAY + timedelta(days=20)])
def test_a_promise_can_be_translated(in_brackets, before, days_off):
    on = TODAY + timedelta(days=days_off)
    said = progress.promise(on, "drying", Change(before, on, "Frost"), TODAY)
    assert is_translated(said.heading), said.heading
    assert is_translated(said.sentence), said.sentence


def test_what_happened_can_be_translated(in_brackets):
    told = [progress.event_text(what, "", "", by_family=True) for what in progress._DONE]
    told += [progress.event_text("move", "booked", to, by_family=False) for to in WAY[1:]]
    told += list(progress.strip_labels().values())
    assert [words for words in told if not is_translated(words)] == []


def test_how_a_price_came_about_can_be_translated(in_brackets):
    facts = [
        {"of": "saves", "pieces": 5, "singly_minor": 42500, "total_minor": 34500},
        {"of": "size_unknown"},
        {"of": "step", "size": 305, "up_to": 450, "unit": "mm"},
        {"of": "percent", "percent": "10", "base_minor": 19900},
        {"of": "given", "given": "fair"},
    ]
    for words in price_explanations.sentences(facts, format_money=str):
        assert is_translated(words), words
