"""Events keep facts; their words are those that were kept as sentences before."""

import importlib
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio import event_words, units

old = importlib.import_module("studio.migrations.0010_facts_of_events")
NEW_NAMES = importlib.import_module(
    "studio.migrations.0011_kinds_of_events_have_plain_names"
).NEW_NAMES
NAMES = {7: "Wren, left hand", 8: "Wren, right foot"}
PIECES = {name: piece for piece, name in NAMES.items()}
typed = st.text(min_size=1).map(str.strip).filter(bool)

SENTENCES = [
    ("add_extra", "2 × Second cast: large"),
    ("arrive", "Sam, mother"),
    ("arrive", "Sam, mother; gone through: skin, allergies"),
    ("choose_look", "Deep blue felt, Limed oak, Ada, 2026"),
    ("confirm_cutting", "Oak 20 mm, rails of 380 and 280 mm"),
    ("credit_part", "INV-0007: One cast less: a scratch"),
    ("demould", "Wren, left hand"),
    ("drop_line", "Fair: 10 off"),
    ("erase_photos", "1 photograph"),
    ("erase_photos", "12 photographs"),
    ("issue_invoice", "INV-0007"),
    ("leave_off_piece", "Wren, left hand: Not wanted: she cried."),
    ("log_impression", "Wren, left hand: taken"),
    ("log_impression", "Wren, left hand: take again, fell asleep, then cried"),
    ("log_impression", "Wren, right foot: taken, tray 3, fingers not flat, not all toes, depth uneven, 74 mm, Hm"),
    ("measure_mould", "Wren, left hand: 120 × 90 × 30 mm"),
    ("move", "Collected by the family."),
    ("move", "Wren, left hand: smudged print. She held: on."),
    ("place_on_rack", "Wren, left hand: place 4"),
    ("pour", "Wren, left hand; Wren, right foot"),
    ("promise", "3 Dec 2026: It dries slowly: sorry."),
    ("promise", "26 Nov 2026 → 3 Dec 2026: It dries slowly."),
    ("release_dry", "Wren, right foot: By hand."),
    ("send_by_courier", "is collected"),
    ("size_frame", "not known"),
    ("size_frame", "400 mm"),
    ("spoil_piece", "Wren, left hand: broken. Fell. Twice."),
    ("strike_weighing", "Wren, left hand: 812.5 g. Wrong piece."),
    ("tick_frame", "backed"),
    ("tick_frame", "not backed after all"),
    ("weigh", "Wren, left hand: 812 g"),
    ("weigh", "Wren, left hand: 812 g, it rained in"),
]  # fmt: skip


@pytest.mark.parametrize(("what", "sentence"), SENTENCES)
def test_a_sentence_of_before_becomes_facts_and_reads_as_before(what, sentence):
    subject, facts, why = old.read_event(what, sentence, PIECES)
    assert why != sentence
    kind = NEW_NAMES.get(what, what)
    assert event_words.details(kind, subject, facts, why, NAMES) == sentence


days = st.dates(date(1000, 1, 1))


@given(st.none() | days, days, typed)
def test_a_promise_of_before_is_read_in_both_forms(before, to, why):
    facts = {"before": before.isoformat() if before else "", "day": to.isoformat()}

    def figures(day):
        return f"{day:%d.%m.}{day.year:04}"

    for say in (units.full_day, figures):
        sentence = f"{say(before)} → " if before else ""
        sentence += f"{say(to)}: {why}"
        assert old.read_event("promise", sentence, {}) == (None, facts, why)


@pytest.mark.parametrize(
    "text",
    ["soon", "31 Feb 2026: no such day", "31.02.2026: nor this", "3 Foo 2026: no month", "2026-12-03: ISO"],
)  # fmt: skip
def test_what_cannot_be_read_stays_as_it_is(text):
    assert old.read_event("promise", text, {}) is None
    assert old.read_event("weigh", f"Bo, left hand: {text}", PIECES) is None
    assert old.read_event("move", text, PIECES) is None
    assert event_words.details("promise", None, {}, text, {}) == text


def test_facts_of_another_kind_are_refused():
    promised = event_words.Promised("", date(2026, 12, 3).isoformat())
    with pytest.raises(TypeError, match="weigh"):
        event_words.to_store("weigh", promised)
