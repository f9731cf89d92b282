"""Limb by limb into the clay, the end of a sitting, and a print that is lost."""

import uuid

import pytest

from bookings.sittings import actions
from bookings.sittings.models import ClayPrint, Sitting
from bookings.sittings.prints import next_tray, pieces_with_print
from studio.jobs.actions import leave_off_piece
from studio.jobs.models import Job
from studio.limbs import Limb
from studio.stages import MoveRefused, Stage, missing, move
from tests.bookings.doing import AT, refused
from tests.makers import details


@pytest.fixture
def left(sitting):
    return sitting.prints.get(piece__limb=Limb.LEFT_HAND)


@pytest.fixture
def right(sitting):
    return sitting.prints.get(piece__limb=Limb.RIGHT_HAND)


class TestLogPrint:
    def test_taken_keeps_the_time_the_tray_and_one_event(self, doing, left):
        logged = doing.log(left, "taken", note=" thumb a little flat ", tray="3")
        assert (logged.outcome, logged.taken_at, logged.tray) == ("taken", AT, "3")
        assert logged.note == "thumb a little flat"
        event = logged.sitting.job.events.get(what="log_print")
        assert details(event) == "Wren, left hand: taken, tray 3, thumb a little flat"

    def test_the_same_key_twice_is_one_try(self, doing, left):
        key = uuid.uuid4()
        doing.log(left, "repeat", key=key)
        assert doing.log(left, "repeat", key=key).tries == 1
        assert left.sitting.job.events.filter(what="log_print").count() == 1

    def test_again_counts_a_try_and_an_answer_may_change(self, doing, left):
        doing.log(left, "repeat")
        doing.log(left, "repeat")
        doing.log(left, "taken", tray="1")
        changed = doing.log(left, "not_today")
        assert (changed.tries, changed.taken_at, changed.live) == (2, None, True)

    @pytest.mark.parametrize("outcome", ["", "smudged"])
    def test_another_answer_is_refused(self, doing, left, unit, outcome):
        refused(unit, lambda: doing.log(left, outcome), "Say whether")

    def test_after_the_end_it_is_refused(self, doing, left, right, unit, sitting):
        doing.log(left, "taken")
        doing.log(right, "taken")
        doing.finish(sitting)
        refused(unit, lambda: doing.log(left, "not_today"), "done", "what was logged stands")

    def test_a_cancelled_sitting_or_an_ended_job_takes_nothing(self, doing, left, unit, sitting):
        doing.cancel(sitting)
        refused(unit, lambda: doing.log(left, "taken"), "cancelled")
        move(sitting.job, seen=Stage.BOOKED, to=Stage.CALLED_OFF, **doing.who())
        refused(unit, lambda: doing.log(left, "taken"), error=MoveRefused)

    def test_a_piece_left_off_is_not_taken(self, doing, left, unit):
        leave_off_piece(left.piece, why="Only one hand after all.", **doing.who())
        refused(unit, lambda: doing.log(left, "taken"), "left off the job")


class TestFinishSitting:
    def test_all_taken_moves_the_job_into_the_clay(self, doing, sitting, left, right):
        doing.log(left, "taken")
        doing.log(right, "taken")
        finished = doing.finish(sitting)
        assert (finished.state, finished.job.stage) == ("done", Stage.CLAY_REST)
        job = Job.objects.get(pk=sitting.job.pk)
        assert job.stage == Stage.CLAY_REST
        assert job.events.filter(what="finish_sitting").count() == 1
        assert job.events.moves().count() == 1
        assert pieces_with_print(job).count() == 2

    def test_the_same_key_twice_is_one(self, doing, sitting, left, right):
        doing.log(left, "taken")
        doing.log(right, "not_today")
        key = uuid.uuid4()
        doing.finish(sitting, key=key)
        assert doing.finish(sitting, key=key).state == "done"
        assert Job.objects.count() == 2
        assert sitting.job.events.moves().count() == 1

    def test_what_was_not_taken_gets_one_job_of_its_own(self, doing, unit):
        sitting = doing.book(doing.family(), limbs=list(Limb))
        first, *others = sitting.prints.all()
        doing.log(first, "taken")
        for clay_print in others:
            doing.log(clay_print, "not_today")
        doing.finish(sitting)
        split = unit.jobs.get(split_from=sitting.job)
        assert (split.stage, split.promised_on) == (Stage.BOOKED, None)
        assert {piece.limb for piece in split.pieces.all()} == set(Limb) - {first.piece.limb}
        assert sitting.job.pieces.on_the_job().get() == first.piece
        assert not sitting.prints.filter(live=True).exclude(pk=first.pk).exists()
        again = doing.book_again(split)
        assert again.prints.count() == 3

    def test_or_is_left_off(self, doing, sitting, left, right):
        doing.log(left, "taken")
        doing.log(right, "not_today")
        doing.finish(sitting, put_off="leave")
        assert Job.objects.get().pieces.on_the_job().get() == left.piece
        right.refresh_from_db()
        assert not right.live

    def test_a_piece_left_off_before_is_not_waited_for(self, doing, sitting, left, right):
        doing.log(left, "taken")
        leave_off_piece(right.piece, why="Only one hand after all.", **doing.who())
        doing.finish(sitting)
        right.refresh_from_db()
        assert not right.live
        assert Job.objects.count() == 1

    @pytest.mark.parametrize("outcome", [None, "repeat"])
    def test_with_a_limb_still_open_it_is_refused(self, doing, sitting, left, right, unit, outcome):
        doing.log(left, "taken")
        if outcome:
            doing.log(right, outcome)
        refused(unit, lambda: doing.finish(sitting), "Wren, right hand: still to be taken")

    def test_with_nothing_taken_it_is_refused(self, doing, sitting, left, right, unit):
        doing.log(left, "not_today")
        doing.log(right, "not_today")
        refused(unit, lambda: doing.finish(sitting), "Nothing was taken", "book the job again")

    def test_an_unknown_fate_or_a_second_end_is_refused(self, doing, sitting, left, right, unit):
        doing.log(left, "taken")
        doing.log(right, "not_today")
        refused(unit, lambda: doing.finish(sitting, put_off="burn"), "what becomes of")
        doing.finish(sitting)
        refused(unit, lambda: doing.finish(sitting), "done")

    def test_a_called_off_job_is_left_alone(self, doing, sitting, left, unit):
        doing.log(left, "taken")
        move(sitting.job, seen=Stage.BOOKED, to=Stage.CALLED_OFF, **doing.who())
        refused(unit, lambda: doing.finish(sitting), error=MoveRefused)


class TestLosePrint:
    def test_the_piece_needs_a_new_sitting(self, doing, sitting, left, right):
        doing.log(left, "taken")
        doing.log(right, "taken")
        doing.finish(sitting)
        key = uuid.uuid4()
        for _ in range(2):
            actions.lose_print(left.piece, why="The tray fell.", **doing.who(key=key))
        assert pieces_with_print(sitting.job).get() == right.piece
        event = sitting.job.events.get(what="lose_print")
        assert details(event) == "Wren, left hand: The tray fell."

    def test_without_a_print_there_is_nothing_to_lose(self, doing, left, unit):
        def lose():
            actions.lose_print(left.piece, why="The tray fell.", **doing.who())

        refused(unit, lose, "no print in the clay")


class TestGates:
    def test_a_job_stays_booked_until_every_piece_has_its_print(self, doing, sitting, left):
        doing.log(left, "taken")
        assert missing(sitting.job, Stage.CLAY_REST) == [
            "Without a print so far: Wren, right hand.",
            "Its sitting is not finished yet: finish it, or take it out of the diary.",
        ]

    def test_nothing_is_missing_once_it_is_finished(self, doing, sitting, left, right):
        doing.log(left, "taken")
        doing.log(right, "taken")
        Sitting.objects.update(state="done")
        assert missing(sitting.job, Stage.CLAY_REST) == []
        ClayPrint.objects.filter(pk=right.pk).update(live=False)
        assert missing(sitting.job, Stage.CLAY_REST) == [
            "Without a print so far: Wren, right hand."
        ]


class TestTrays:
    def test_the_lowest_free_number_is_suggested(self, doing, sitting, left, right, unit):
        assert next_tray(unit) == "1"
        doing.log(left, "taken", tray="1")
        doing.log(right, "taken", tray="3")
        assert next_tray(unit) == "2"

    def test_a_tray_is_free_again_when_its_print_is_lost(self, doing, sitting, left, unit):
        doing.log(left, "taken", tray="1")
        actions.lose_print(left.piece, why="Dropped.", **doing.who())
        assert next_tray(unit) == "1"
