"""What a plan may be made from, the days of a bench, and what a plan says of itself."""

from datetime import date, timedelta

import pytest

from production.planning.solver.model import Bench, Drying, Job, JobPlan, Piece, Plan, Score, Step

MONDAY = date(2026, 11, 30)

DAY = timedelta(days=1)

SATURDAY = MONDAY + 5 * DAY

SOON = Drying(4.0, 5.0, 6.0)


def printed(**facts):
    return Piece("hand", SOON, **({"pour_from": MONDAY, "pour_by": MONDAY} | facts))


class TestDrying:
    @pytest.mark.parametrize(("late_days", "safe"), [(6.0, 6), (6.01, 7), (5.0, 5)])
    def test_it_is_safe_after_whole_days(self, late_days, safe):
        assert Drying(4.0, 5.0, late_days).safe_days == safe

    @pytest.mark.parametrize("days", [(-0.1, 5, 6), (5.1, 5, 6), (4, 6.1, 6)])
    def test_days_below_zero_or_out_of_order_are_refused(self, days):
        with pytest.raises(ValueError, match="early comes before late"):
            Drying(*days)

    def test_a_piece_that_is_dry_at_once_is_none_to_refuse(self):
        assert Drying(0, 0, 0).safe_days == 0


class TestPiece:
    @pytest.mark.parametrize("missing", ["pour_from", "pour_by"])
    def test_one_that_is_not_poured_needs_the_days_of_its_clay(self, missing):
        with pytest.raises(ValueError, match="hand is not poured: it needs the days of its clay"):
            printed(**{missing: None})

    @pytest.mark.parametrize(
        "facts", [{"poured_on": MONDAY}, {"demoulded_on": MONDAY}, {"is_dry": True}]
    )
    def test_one_that_is_poured_needs_none(self, facts):
        assert Piece("hand", SOON, **facts).on_rack

    def test_clay_lasts_at_least_until_the_day_of_the_print(self):
        assert printed().pour_by == MONDAY
        with pytest.raises(ValueError, match="before its print"):
            printed(pour_by=MONDAY - DAY)

    def test_what_is_not_said_of_a_piece(self):
        piece = printed()
        assert (piece.is_dry, piece.on_rack, piece.volume_ml) == (False, True, 0)


class TestJob:
    @pytest.mark.parametrize("facts", [{"frame_minutes": -1}, {"cure_days": -1}])
    def test_negative_time_is_refused_and_none_is_not(self, facts):
        with pytest.raises(ValueError, match="negative time"):
            Job("A", (printed(),), **facts)
        assert Job("A", (printed(),), **dict.fromkeys(facts, 0)).weight == 1

    def test_it_counts_at_least_once(self):
        with pytest.raises(ValueError, match="at least once"):
            Job("A", (printed(),), weight=0)

    @pytest.mark.parametrize("facts", [{"framed_on": MONDAY}, {"is_ready": True}])
    def test_only_one_that_is_framed_may_have_no_piece(self, facts):
        assert Job("A", (), **facts).pieces == ()
        with pytest.raises(ValueError, match="no piece to plan"):
            Job("A", ())

    def test_what_is_not_said_of_a_job(self):
        """An hour of framing, one night of curing, collected, not framed yet."""
        job = Job("A", (printed(),), finish="oak", backing="linen")
        assert (job.frame_minutes, job.cure_days, job.weight) == (60, 1, 1)
        assert (job.by_courier, job.is_ready) == (False, False)
        assert job.batch == ("oak", "linen")


class TestBench:
    def test_a_working_week_unless_it_is_said_otherwise(self):
        bench = Bench()
        week = [MONDAY + n * DAY for n in range(7)]
        assert [bench.minutes(day) for day in week] == [240] * 5 + [0, 0]
        assert [bench.is_open(day) for day in week] == [True] * 5 + [False] * 2
        assert [bench.courier_comes(day) for day in week] == [True] * 5 + [False] * 2
        assert (bench.moulds_per_pour, bench.pours_per_day, bench.bucket_ml) == (4, 2, 2000)
        assert (bench.pour_minutes, bench.mould_days, bench.demould_minutes) == (30, 0, 10)
        assert (bench.rack_places, bench.framing_minutes_per_day, bench.setup_minutes) == (
            24,
            180,
            20,
        )

    def test_a_day_off_a_day_opened_and_what_is_gone_of_a_day(self):
        bench = Bench(
            days_off=frozenset({MONDAY}),
            opened_minutes={MONDAY: 500, SATURDAY: 90},
            taken_minutes={MONDAY + DAY: 200, MONDAY + 2 * DAY: 300},
        )
        assert (bench.is_open(MONDAY), bench.minutes(MONDAY)) == (False, 0)
        assert (bench.is_open(SATURDAY), bench.minutes(SATURDAY)) == (True, 90)
        assert bench.minutes(MONDAY + DAY) == 40
        full = MONDAY + 2 * DAY
        assert (bench.is_open(full), bench.minutes(full)) == (True, 0), "open for a hand-over"
        assert Bench(opened_minutes={SATURDAY: 1}).is_open(SATURDAY)

    def test_a_courier_comes_on_open_days_of_hers(self):
        bench = Bench(days_off=frozenset({MONDAY}), courier_weekdays=frozenset({0, 1, 5}))
        came = [n for n in range(9) if bench.courier_comes(MONDAY + n * DAY)]
        assert came == [1, 7, 8]

    @pytest.mark.parametrize(
        "facts",
        [
            {"moulds_per_pour": 0},
            {"pours_per_day": 0},
            {"rack_places": 0},
            {"bucket_ml": 0},
        ],
    )
    def test_one_that_can_pour_or_dry_nothing_is_refused(self, facts):
        with pytest.raises(ValueError, match="at least one mould"):
            Bench(**facts)
        assert Bench(**dict.fromkeys(facts, 1))

    @pytest.mark.parametrize(
        "name", ["pour_minutes", "demould_minutes", "setup_minutes", "mould_days"]
    )
    def test_negative_minutes_are_refused_and_none_are_not(self, name):
        with pytest.raises(ValueError, match="cannot be negative"):
            Bench(**{name: -1})
        assert Bench(**{name: 0})

    def test_a_weekday_below_zero_is_refused(self):
        with pytest.raises(ValueError, match="cannot be negative"):
            Bench(minutes_by_weekday=(240, 0, 0, 0, 0, 0, -1))

    def test_the_longest_day_holds_a_pouring_with_its_demoulding(self):
        day = {"minutes_by_weekday": (0, 0, 0, 0, 0, 0, 40), "setup_minutes": 5}
        assert Bench(**day).longest_day_minutes == 40
        with pytest.raises(ValueError, match="pour and demould"):
            Bench(**day, demould_minutes=11)

    @pytest.mark.parametrize(
        ("day_minutes", "framing_minutes", "fits"),
        [(61, 61, True), (60, 61, False), (61, 60, False)],
    )
    def test_a_day_holds_more_than_setting_up_for_framing(self, day_minutes, framing_minutes, fits):
        def made():
            return Bench(
                minutes_by_weekday=(day_minutes, 0, 0, 0, 0, 0, 0),
                framing_minutes_per_day=framing_minutes,
                setup_minutes=60,
            )

        if fits:
            assert made().setup_minutes == 60
        else:
            with pytest.raises(ValueError, match="set up for framing"):
                made()


class TestPlan:
    FRAME = Step("frame", MONDAY, reason=(("dry",),), latest_on=MONDAY + 3 * DAY)
    HOME = Step("hand_over", MONDAY + DAY, reason=(("ready",),))

    def job(self, key="A", *steps, promised_on=MONDAY + 4 * DAY):
        home_on = steps[-1].on if steps else None
        return JobPlan(key, steps, home_on, promised_on)

    def test_slack_is_counted_in_calendar_days(self):
        assert self.FRAME.slack_days == 3
        assert self.HOME.slack_days is None
        assert self.job("A", self.FRAME, self.HOME).slack_days == 3
        assert self.job("A", self.FRAME, promised_on=MONDAY - DAY).slack_days == -1
        assert self.job("A", self.FRAME, promised_on=None).slack_days is None
        assert self.job("A").slack_days is None
        assert self.job("A").late_days == 0

    def test_the_next_step_and_what_holds_a_job_up(self):
        weigh = Step("weigh", MONDAY, reason=(("likely",),))
        job = self.job("A", weigh, self.FRAME, self.HOME)
        assert job.next_step == weigh
        assert job.why == "it is dry", "its framing, not what comes before or after"
        assert self.job("A", weigh, self.HOME).why == "it is ready"
        assert self.job("A", weigh).why == ""
        assert self.job("A").next_step is None

    def test_a_plan_is_read_by_job(self):
        first, second = self.job("A", self.FRAME, self.HOME), self.job("B", self.FRAME)
        plan = Plan(MONDAY, (first, second), Score(late_days=5), "solved", bound_late_days=3)
        assert plan.job_plan("B") == second
        assert plan.job_plan("C") is None
        assert (plan.gap_days, plan.is_proven) == (2, False)
        assert Plan(MONDAY, (), Score(late_days=3), "solved", bound_late_days=3).is_proven
        assert not Plan(MONDAY, (), Score(late_days=1), "quick").is_proven, "nothing is proven yet"

    def test_a_broken_plan_is_worse_than_a_late_one(self):
        worst_first = [
            Score(broken=1),
            Score(lost_prints=1),
            Score(late_days=2),
            Score(late_days=1, moves=9, length=9),
            Score(moves=1),
            Score(length=1),
            Score(),
        ]
        assert sorted(worst_first, reverse=True) == worst_first
        assert Score() == Score(0, 0, 0, 0, 0)

    def test_a_step_of_which_nothing_more_is_said_takes_no_time(self):
        step = Step("weigh", MONDAY)
        assert (step.minutes, step.pinned, step.moved_from) == (0, False, None)
