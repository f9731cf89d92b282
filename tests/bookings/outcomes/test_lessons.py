"""What the sittings teach: shares that add up, small numbers named as such, reasons without names."""

import uuid
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from bookings.outcomes import lessons as outcomes_lessons
from bookings.outcomes.lessons import Lesson, Print, Reason, RepeatEvent
from bookings.outcomes.reads import prints_since, repeat_events_since
from bookings.sittings import actions
from bookings.sittings.models import Sitting
from studio.limbs import Limb
from studio.stages import Stage
from tests import makers
from tests.bookings.doing import AT
from tests.parts.markup import faults

LIMBS = [limb.label for limb in Limb]

PLACES = [place.label for place in Sitting.Place]

prints = st.lists(
    st.builds(
        Print,
        age_days=st.integers(0, 4000),
        limb=st.sampled_from(LIMBS),
        place=st.sampled_from(PLACES),
        tries=st.integers(0, 4),
        put_off=st.booleans(),
        lost=st.booleans(),
    ),
    max_size=40,
)


def a_print(age_days=120, *, again=False, limb="left hand"):
    return Print(age_days, limb, PLACES[0], int(again), put_off=False, lost=False)


class TestShares:
    @given(prints)
    def test_every_print_is_in_one_group_of_each_kind(self, found):
        whole = outcomes_lessons.overall(found)
        for lessons in (
            outcomes_lessons.by_age(found),
            outcomes_lessons.by_limb(found, LIMBS),
            outcomes_lessons.by_place(found, PLACES),
        ):
            assert sum(each.prints for each in lessons) == whole.prints == len(found)
            assert sum(each.repeated for each in lessons) == whole.repeated
            assert all(0 <= each.repeated <= each.prints for each in lessons)
            assert all(each.prints for each in lessons), "no group of nothing"
            assert len({each.about for each in lessons}) == len(lessons)

    @given(prints, st.randoms(use_true_random=False))
    def test_the_order_of_the_sittings_changes_nothing(self, found, chance):
        shuffled = chance.sample(found, len(found))
        assert outcomes_lessons.by_age(shuffled) == outcomes_lessons.by_age(found)

    @given(prints, st.integers(0, 4000))
    def test_a_print_at_the_first_try_adds_a_print_and_no_repeat(self, found, age_days):
        before, after = (
            outcomes_lessons.overall(some) for some in (found, [*found, a_print(age_days)])
        )
        assert (after.prints, after.repeated) == (before.prints + 1, before.repeated)

    @given(st.integers(0, 4000), st.integers(0, 4000))
    def test_an_older_child_is_never_in_a_younger_band(self, one, other):
        order = [words for _, words in outcomes_lessons.BANDS] + [outcomes_lessons.OLDER]
        younger, older = sorted((one, other))
        assert order.index(outcomes_lessons.band(younger)) <= order.index(
            outcomes_lessons.band(older)
        )

    @pytest.mark.parametrize(
        ("age_days", "words"),
        [
            (0, "Under 12 weeks"),
            (83, "Under 12 weeks"),
            (84, "12 to 16 weeks"),
            (118, "12 to 16 weeks"),
            (119, "17 weeks to 6 months"),
            (183, "6 to 12 months"),
            (365, "A year and older"),
        ],
    )
    def test_a_band_begins_on_its_day(self, age_days, words):
        assert outcomes_lessons.band(age_days) == words

    def test_the_youngest_come_first_and_it_reads_as_said(self):
        found = [a_print(200)] * 6 + [a_print(70, again=True)] * 4 + [a_print(70)] * 5
        assert [(each.about, each.words) for each in outcomes_lessons.by_age(found)] == [
            ("Under 12 weeks", "4 of 9 repeated"),
            ("6 to 12 months", "none of 6 repeated"),
        ]

    @pytest.mark.parametrize(
        ("count", "words"),
        [
            (1, "1 of 1 repeated; only 1 print so far, too few to learn from"),
            (4, "1 of 4 repeated; only 4 prints so far, too few to learn from"),
            (5, "1 of 5 repeated"),
        ],
    )
    def test_a_small_number_is_said_as_such(self, count, words):
        assert Lesson("Left hand", count, 1).words == words

    @pytest.mark.parametrize("how", [{"tries": 1}, {"put_off": True}, {"lost": True}])
    def test_again_put_off_and_lost_are_repeated(self, how):
        facts = {"tries": 0, "put_off": False, "lost": False}
        assert Print(100, "left hand", PLACES[0], **facts | how).repeated
        assert not Print(100, "left hand", PLACES[0], **facts).repeated


class TestReasons:
    def test_alike_is_counted_once_a_limb_and_told_as_first_written(self):
        said = [
            RepeatEvent(1, "log_print", 1, why="Tired"),
            RepeatEvent(1, "log_print", 1, why="Tired; cried"),
            RepeatEvent(1, "log_print", 2, why="tired."),
            RepeatEvent(2, "log_print", 3, why="tired"),
        ]
        assert outcomes_lessons.repeat_reasons(said) == [Reason("Tired", 3), Reason("cried", 1)]

    def test_marks_are_reasons_where_they_say_not(self):
        said = [
            RepeatEvent(1, "log_print", 1, ("not all toes",)),
            RepeatEvent(2, "log_print", 2, ("fingers not flat",), "fell, then slept"),
        ]
        assert {each.words for each in outcomes_lessons.repeat_reasons(said)} == {
            "not all toes",
            "fingers not flat",
            "fell, then slept",
        }

    def test_each_kind_has_its_own(self):
        said = [
            RepeatEvent(1, "lose_print", 1, why="The tray fell."),
            RepeatEvent(1, "spoil_piece", 1, ("bubble",), "Across the heel: deep."),
            RepeatEvent(1, "cancel_sitting", why="Wren has a cold."),
            RepeatEvent(2, "cancel_sitting", why="wren has a cold"),
            RepeatEvent(1, "book_again"),
            RepeatEvent(1, "log_print", 1),
        ]
        assert outcomes_lessons.lost_print_reasons(said) == [Reason("The tray fell", 1)]
        assert outcomes_lessons.spoiled_cast_reasons(said) == [Reason("bubble", 1)]
        assert outcomes_lessons.cancelled_sitting_reasons(said) == [Reason("Wren has a cold", 2)]
        assert outcomes_lessons.repeat_reasons(said) == []

    @given(
        st.lists(
            st.builds(
                RepeatEvent,
                st.integers(1, 3),
                st.just("lose_print"),
                st.integers(1, 3),
                why=st.text(),
            )
        )
    )
    def test_any_words_are_counted_or_left_out(self, said):
        found = outcomes_lessons.lost_print_reasons(said)
        assert sum(each.count for each in found) <= len(said)
        assert len({each.words.casefold() for each in found}) == len(found)
        assert [each.count for each in found] == sorted((e.count for e in found), reverse=True)


class TestThePage:
    url = "/diary/learning/"

    def hold(self, doing, family, *, days=1):
        """A sitting of four limbs: taken, taken at the second try, put off, taken and then lost."""
        sitting = doing.book(family, limbs=list(Limb), days=days)
        first, second, third, fourth = sitting.prints.order_by("pk")
        doing.log(first, "taken")
        doing.log(second, "repeat", note="made a fist")
        doing.log(second, "taken")
        doing.log(third, "not_today", note="cried")
        doing.log(fourth, "taken")
        doing.finish(sitting)
        actions.lose_print(fourth.piece, why="The tray fell.", **doing.who())
        return sitting

    def test_it_counts_what_happened(self, doing, family, unit):
        self.hold(doing, family)
        going_on = doing.book(doing.family(name="Hughes"), days=3)  # not finished: teaches nothing
        doing.log(going_on.prints.first(), "taken")
        found = prints_since(unit, AT)
        assert [(each.limb, each.repeated) for each in found] == [
            ("left hand", False),
            ("right hand", True),
            ("left foot", True),
            ("right foot", True),
        ]
        assert {each.age_days for each in found} == {120}
        said = repeat_events_since(unit, AT)
        assert outcomes_lessons.repeat_reasons(said) == [
            Reason("cried", 1),
            Reason("made a fist", 1),
        ]
        assert outcomes_lessons.lost_print_reasons(said) == [Reason("The tray fell", 1)]

    def test_it_says_so_in_plain_words_and_names_nobody_of_the_studio(
        self, helper, doing, family, unit
    ):
        self.hold(doing, family)
        page = helper.get(self.url).content.decode()
        assert not faults(page)
        assert "17 weeks to 6 months: 3 of 4 repeated; only 4 prints so far" in page
        assert "Left hand: none of 1 repeated" in page
        assert "Made a fist" in page
        assert str(doing.by) not in page

    def test_a_given_up_cast_is_counted_by_its_kind(self, owner, unit):
        from production.bench import actions as bench_actions  # noqa: PLC0415 - the bench of this test alone

        job = makers.job_at(Stage.DRYING, unit)
        cast = unit.casts.filter(piece__job=job).first()
        bench_actions.spoil_piece(
            cast,
            how="bubble",
            why="Across the palm.",
            print_whole=True,
            by=makers.owner_of(unit),
            at=timezone.now(),
            key=uuid.uuid4(),
        )
        said = repeat_events_since(unit, timezone.now() - timedelta(days=30))
        assert outcomes_lessons.spoiled_cast_reasons(said) == [Reason("bubble", 1)]

    def test_without_a_finished_sitting_it_says_what_will_stand_here(self, owner, sitting):
        assert "Nothing to learn from yet" in owner.get(self.url).content.decode()

    def test_it_is_reached_from_the_diary_and_only_read(self, owner, office, parent, unit):
        assert f'href="{self.url}"' in owner.get(reverse("bookings:diary")).content.decode()
        assert owner.post(self.url).status_code == 405
        assert office.get(self.url).status_code == 403
        assert parent.get(self.url).status_code == 302

    def test_another_studios_sittings_teach_us_nothing(self, stranger, doing, family):
        self.hold(doing, family)
        assert "Nothing to learn from yet" in stranger.get(self.url).content.decode()

    def test_it_reads_no_more_for_many(self, owner, doing, family, constant_queries):
        self.hold(doing, family)

        def grow():
            for number in range(3):
                self.hold(doing, doing.family(name=f"F{number}"), days=number + 2)

        constant_queries(lambda: owner.get(self.url), grow)
