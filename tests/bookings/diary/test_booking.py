"""Booking, booking again, moving and cancelling: what each does once, and what it refuses."""

import uuid
from datetime import date, timedelta

import pytest
from django.db import IntegrityError, transaction
from django.db.models import Q

from bookings.sittings import actions
from bookings.sittings.models import ClayPrint, Sitting
from studio.jobs.models import Job
from studio.limbs import Limb
from studio.stages import MoveRefused, Stage, move
from studio.versions import EditedMeanwhile
from tests import makers
from tests.bookings.doing import AT, HANDS, refused
from tests.makers import details


class TestBookSitting:
    def test_opens_a_job_with_its_date_its_promise_and_one_event(self, doing, family, unit):
        sitting = doing.book(family, place="studio", place_words=" front room ")
        job = sitting.job
        assert job.stage == Stage.BOOKED
        assert job.promised_on == date(2026, 11, 26) + timedelta(days=unit.promise_days)
        assert sitting.ends_at - sitting.starts_at == timedelta(minutes=45)
        assert (sitting.place, sitting.place_words) == ("studio", "front room")
        assert [(each.piece.limb, each.live) for each in sitting.prints.all()] == [
            (Limb.LEFT_HAND, True),
            (Limb.RIGHT_HAND, True),
        ]
        assert job.events.filter(what="book_sitting").count() == 1
        assert "Thu 26 Nov, 10:00" in details(job.events.get(what="book_sitting"))

    def test_the_same_key_twice_is_one(self, doing, family):
        key = uuid.uuid4()
        first, second = doing.book(family, key=key), doing.book(family, key=key)
        assert first == second
        assert Job.objects.count() == Sitting.objects.count() == 1

    def test_a_promise_counts_from_the_local_day(self, doing, family, unit):
        unit.time_zone = "Pacific/Auckland"
        unit.save()
        sitting = doing.book(family, hours=3)  # 13:00 UTC is 02:00 of the next day there
        assert sitting.job.promised_on == date(2026, 11, 27) + timedelta(days=unit.promise_days)

    @pytest.mark.parametrize(
        ("facts", "words"),
        [
            ({"minutes": 0}, ("between 1 and 480 minutes",)),
            ({"minutes": 481}, ("between 1 and 480 minutes",)),
            ({"days": -31}, ("more than 30 days back", "check the date")),
            ({"days": 731}, ("more than two years ahead", "check the year")),
            ({"limbs": ()}, ("at least one hand or foot",)),
        ],
    )
    def test_an_impossible_time_or_nothing_to_take_is_refused(
        self, doing, family, unit, facts, words
    ):
        refused(unit, lambda: doing.book(family, **facts), *words)

    def test_a_sitting_held_already_is_written_up_for_a_month(self, doing, family):
        assert doing.book(family, days=-29).starts_at < AT

    def test_before_birth_no_reason_helps(self, doing, unit):
        family = doing.family(born_on=date(2026, 12, 10))
        refused(
            unit,
            lambda: doing.book(family, young_why="The parents wish it."),
            "Wren is born on Thu 10 Dec",
        )

    def test_before_twelve_weeks_it_takes_a_reason(self, doing, unit):
        # Twelve weeks: common practice of the trade, no source.
        family = doing.family(born_on=date(2026, 9, 4))
        refused(unit, lambda: doing.book(family), "Wren", "too young", "Write why")
        refused(unit, lambda: doing.book(family, young_why="  "), "too young")
        sitting = doing.book(family, young_why="They move abroad on Monday.")
        assert sitting.young_why == "They move abroad on Monday."
        assert "They move abroad" in details(sitting.job.events.get(what="book_sitting"))

    def test_on_the_day_of_twelve_weeks_it_takes_none(self, doing):
        family = doing.family(born_on=date(2026, 11, 26) - timedelta(weeks=12))
        assert doing.book(family).young_why == ""

    def test_another_familys_child_is_refused(self, doing, family, unit):
        other = doing.family(name="Hughes")
        wanted = [(other.children.get(), Limb.LEFT_HAND)]
        refused(unit, lambda: doing.book(family, wanted=wanted), "belongs to another family")

    @pytest.mark.parametrize(
        ("minutes_later", "clashes"),
        [(-45, False), (-44, True), (0, True), (44, True), (45, False)],
    )
    def test_a_taken_slot_is_refused_and_says_by_whom(
        self, doing, sitting, unit, minutes_later, clashes
    ):
        other = doing.family(name="Hughes")
        starts_at = sitting.starts_at + timedelta(minutes=minutes_later)

        def call():
            return doing.book(other, starts_at=starts_at)

        if clashes:
            refused(unit, call, "Okafor", "Thu 26 Nov, 10:00–10:45", sitting.job.display_reference)
        else:
            assert call().starts_at == starts_at

    def test_a_slot_is_free_again_once_cancelled_or_called_off(self, doing, sitting, unit):
        doing.cancel(sitting)
        second = doing.book(doing.family(name="Hughes"))
        move(second.job, seen=Stage.BOOKED, to=Stage.CALLED_OFF, **doing.who())
        assert doing.book(doing.family(name="Novak")).starts_at == sitting.starts_at

    def test_another_units_slot_is_no_clash(self, doing, sitting):
        elsewhere = type(doing)(makers.a_unit(name="Elsewhere"))
        assert elsewhere.book(elsewhere.family()).starts_at == sitting.starts_at

    def test_a_second_sitting_for_the_same_limb_names_the_job(self, doing, sitting, family, unit):
        refused(
            unit,
            lambda: doing.book(family, days=3, limbs=[Limb.RIGHT_HAND, Limb.LEFT_FOOT]),
            "Wren’s right hand",
            sitting.job.display_reference,
        )
        assert doing.book(family, days=3, limbs=[Limb.LEFT_FOOT]).job != sitting.job

    def test_a_limb_may_be_cast_anew_once_its_job_has_ended(self, doing, sitting, family):
        move(sitting.job, seen=Stage.BOOKED, to=Stage.CALLED_OFF, **doing.who())
        assert doing.book(family, days=3).job != sitting.job

    def test_everything_against_it_is_told_at_once(self, doing, sitting, family, unit):
        refusal = refused(unit, lambda: doing.book(family, minutes=0))
        assert len(refusal.reasons) == 3, "the length and both hands"

    def test_the_database_itself_holds_the_line(self, sitting):
        with pytest.raises(IntegrityError), transaction.atomic():
            Sitting.objects.create(
                unit=sitting.unit,
                job=sitting.job,
                starts_at=sitting.starts_at,
                ends_at=sitting.ends_at,
            )
        with pytest.raises(IntegrityError), transaction.atomic():
            Sitting.objects.filter(pk=sitting.pk).update(ends_at=sitting.starts_at)


class TestBookAgain:
    def test_sets_a_date_for_what_has_no_print_and_moves_the_promise(self, doing, sitting, unit):
        doing.cancel(sitting)
        again = doing.book_again(sitting.job)
        assert again.job == sitting.job
        assert again.prints.filter(live=True).count() == 2
        job = Job.objects.get(pk=sitting.job.pk)
        assert job.promised_on == date(2026, 11, 29) + timedelta(days=unit.promise_days)
        assert job.events.filter(what="book_again").count() == 1

    def test_the_same_key_twice_is_one(self, doing, sitting):
        doing.cancel(sitting)
        key = uuid.uuid4()
        assert doing.book_again(sitting.job, key=key) == doing.book_again(sitting.job, key=key)
        assert sitting.job.sittings.count() == 2

    def test_only_a_lost_print_is_sat_for_again(self, doing, sitting):
        for clay_print in sitting.prints.all():
            doing.log(clay_print, "taken")
        doing.finish(sitting)
        lost = sitting.job.pieces.first()
        actions.lose_print(lost, why="Dropped.", **doing.who())
        move(sitting.job, seen=Stage.CLAY_REST, to=Stage.BOOKED, **doing.who())
        again = doing.book_again(sitting.job)
        assert [each.piece for each in again.prints.all()] == [lost]

    def test_while_a_date_stands_it_is_refused(self, doing, sitting, unit):
        refused(unit, lambda: doing.book_again(sitting.job), "Thu 26 Nov, 10:00", "move that one")

    def test_at_another_stage_it_is_refused(self, doing, unit, sitting):
        for clay_print in sitting.prints.all():
            doing.log(clay_print, "taken")
        doing.finish(sitting)
        refused(unit, lambda: doing.book_again(sitting.job), "In the clay", error=MoveRefused)
        move(sitting.job, seen=Stage.CLAY_REST, to=Stage.BOOKED, **doing.who())
        refused(unit, lambda: doing.book_again(sitting.job), "Every piece")

    def test_a_clash_and_an_age_are_refused_here_too(self, doing, sitting, unit):
        doing.cancel(sitting)
        taken = doing.book(doing.family(name="Hughes"))
        refused(
            unit,
            lambda: doing.book_again(sitting.job, starts_at=taken.starts_at, days=0),
            "Hughes",
        )
        refused(
            unit,
            lambda: doing.book_again(sitting.job, days=-22, starts_at=AT - timedelta(days=60)),
            "too young",
            "days back",
        )


class TestMoveSitting:
    def test_moves_the_date_and_the_promise_by_as_many_days(self, doing, sitting):
        promised_on = sitting.job.promised_on
        starts_at = sitting.starts_at + timedelta(days=2)
        moved = doing.move(sitting, place="elsewhere", place_words="Nan’s", why="A birthday.")
        assert (moved.starts_at, moved.place_words, moved.version) == (starts_at, "Nan’s", 2)
        assert moved.ends_at == starts_at + timedelta(minutes=45)
        job = Job.objects.get(pk=sitting.job.pk)
        assert job.promised_on == promised_on + timedelta(days=2)
        event = job.events.get(what="move_sitting")
        assert "Sat 28 Nov, 10:00" in details(event)
        assert event.why == "A birthday."

    def test_the_same_key_twice_is_one(self, doing, sitting):
        key, seen = uuid.uuid4(), sitting.version
        doing.move(sitting, key=key)
        again = doing.move(sitting, key=key, seen_version=seen)
        assert again.version == 2
        assert sitting.job.events.filter(what="move_sitting").count() == 1

    def test_it_does_not_clash_with_itself_but_with_others(self, doing, sitting, unit):
        doing.move(sitting, starts_at=sitting.starts_at + timedelta(minutes=15))
        other = doing.book(doing.family(name="Hughes"), days=2)
        refused(unit, lambda: doing.move(sitting, starts_at=other.starts_at), "Hughes")

    def test_the_second_of_two_is_told_and_loses_nothing(self, doing, sitting, unit):
        seen = sitting.version
        stale = Sitting.objects.get(pk=sitting.pk)
        doing.move(sitting)
        refusal = refused(
            unit,
            lambda: doing.move(stale, seen_version=seen, starts_at=AT + timedelta(days=9)),
            error=EditedMeanwhile,
        )
        assert refusal.current.starts_at == sitting.starts_at

    def test_too_young_or_over_is_refused(self, doing, unit):
        sitting = doing.book(doing.family(born_on=date(2026, 9, 2)))
        refused(unit, lambda: doing.move(sitting, starts_at=AT - timedelta(days=9)), "too young")
        doing.cancel(sitting)
        refused(unit, lambda: doing.move(sitting), "cancelled")

    def test_an_ended_job_is_left_alone(self, doing, sitting, unit):
        move(sitting.job, seen=Stage.BOOKED, to=Stage.CALLED_OFF, **doing.who())
        refused(unit, lambda: doing.move(sitting), error=MoveRefused)


class TestCancelSitting:
    def test_leaves_the_job_booked_and_without_a_date(self, doing, sitting):
        cancelled = doing.cancel(sitting)
        assert (cancelled.state, cancelled.cancelled_why) == ("cancelled", "Wren has a cold.")
        assert not cancelled.prints.filter(live=True).exists()
        job = Job.objects.get(pk=sitting.job.pk)
        assert job.stage == Stage.BOOKED
        assert job.events.filter(what="cancel_sitting").count() == 1

    def test_the_same_key_twice_is_one(self, doing, sitting):
        key = uuid.uuid4()
        doing.cancel(sitting, key=key)
        assert doing.cancel(sitting, key=key).state == "cancelled"
        assert sitting.job.events.filter(what="cancel_sitting").count() == 1

    def test_it_takes_a_reason_and_a_sitting_to_come(self, doing, sitting, unit):
        refused(unit, lambda: doing.cancel(sitting, why=" "), "Write why")
        doing.cancel(sitting)
        refused(unit, lambda: doing.cancel(sitting), "cancelled")

    def test_with_a_print_in_the_clay_it_is_refused(self, doing, sitting, unit):
        doing.log(sitting.prints.first(), "taken")
        refused(unit, lambda: doing.cancel(sitting), "1 print is in the clay", "finish")

    def test_the_second_of_two_is_told(self, doing, sitting, unit):
        seen = sitting.version
        doing.move(sitting)
        refused(unit, lambda: doing.cancel(sitting, seen_version=seen), error=EditedMeanwhile)


def test_a_piece_is_sat_for_once_whatever_happens(doing, sitting, family):
    """The database: at most one live print a piece."""
    doing.cancel(sitting)
    doing.book_again(sitting.job)
    with pytest.raises(IntegrityError), transaction.atomic():
        sitting.prints.update(live=True)
    live = ClayPrint.objects.filter(Q(live=True), piece__job=sitting.job)
    assert live.count() == len(HANDS)
