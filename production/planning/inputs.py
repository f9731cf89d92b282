"""Conversion of jobs and settings to the solver's input, and of plans to and from rows."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cached_property
from typing import cast

from django.utils import timezone

from production.bench import piece_now
from production.bench.jobs import JobNow, open_jobs
from production.casts import forecasts
from production.frames.job_frames import finish_and_backing
from production.planning.solver import model
from production.schedule.facts import Habits
from production.schedule.models import PlanPin, PlanRun, PlanStep
from production.working_week.calendar import Calendar, calendar
from production.working_week.models import OtherDays, WorkingWeek
from studio.accounts.models import Unit
from studio.jobs.models import JobEvent, Piece
from studio.stages import Stage

# The framing that is left of a frame begun is at least this share of it: checking takes its time.
LEAST_SHARE_LEFT = 0.2


@dataclass(frozen=True)
class PlanInputs:
    """What a plan is made from. `pieces`: the piece by job reference and key within the plan."""

    unit: Unit
    today: date
    bench: model.Bench
    jobs: tuple[model.Job, ...]
    known: Mapping[str, JobNow]
    pieces: Mapping[tuple[str, str], Piece]
    # Open jobs that are not planned to their end: a piece of them has no sitting in sight.
    undated: tuple[JobNow, ...] = ()
    drying: Mapping[str, model.Drying] = field(default_factory=dict)

    @cached_property
    def keys(self) -> dict[tuple[str, int], str]:
        """Key of a piece within the plan, by job reference and primary key of the piece."""
        return {(job, piece.pk): key for (job, key), piece in self.pieces.items()}


def plan_inputs(unit: Unit, now: datetime) -> PlanInputs:
    """Read all that a plan is made from. Sixteen queries, however many open jobs."""
    today = timezone.localdate(now)
    found = open_jobs(unit, now)
    week_now, rack = calendar(unit, today), forecasts.DryingRack(unit, now)
    convert = _JobConverter(
        kept=week_now.week,
        looks=finish_and_backing(unit, [each.job.pk for each in found]),
        pins=_pins(unit),
        by_courier=frozenset(
            unit.jobs.open().exclude(by_courier=None).values_list("pk", flat=True)
        ),
        drying=_drying(rack),
        habits=piece_now.habits(unit),
        today=today,
    )
    begun = [
        each
        for each in found
        if each.facts.needs or any(piece.facts.is_dated for piece in each.pieces)
    ]
    return PlanInputs(
        unit=unit,
        today=today,
        bench=solver_bench(unit, week_now, rack.workshop.bucket_ml),
        jobs=tuple(convert.job(each) for each in begun),
        known={each.job.reference: each for each in found},
        pieces={
            (each.job.reference, key): piece.piece
            for each in begun
            for key, piece in pieces_by_key(each).items()
        },
        undated=tuple(each for each in found if not each.facts.needs),
        drying=convert.drying,
    )


def pieces_by_key(job: JobNow) -> dict[str, piece_now.PieceNow]:
    """Return the job's pieces by their keys within a plan: "Ada, left hand", the second one "Ada, left hand (2)"."""
    found: dict[str, piece_now.PieceNow] = {}
    for each in job.pieces:
        name = f"{each.facts.child}, {each.facts.limb}"
        again = sum(key == name or key.startswith(f"{name} (") for key in found)
        found[f"{name} ({again + 1})" if again else name] = each
    return found


def solver_bench(unit: Unit, found: Calendar, bucket_ml: float) -> model.Bench:
    """Return the bench as the solver takes it: working days, capacities and minutes. No query."""
    kept = found.week
    return model.Bench(
        minutes_by_weekday=kept.minutes,
        days_off=found.days_off,
        opened_minutes=found.opened_minutes,
        moulds_per_pour=kept.moulds_per_pour,
        pours_per_day=kept.pours_per_day,
        bucket_ml=bucket_ml,
        pour_minutes=kept.pour_minutes,
        mould_days=piece_now.habits(unit).mould_days,
        demould_minutes=kept.demould_minutes,
        rack_places=max(1, unit.rack_places),
        framing_minutes_per_day=kept.framing_minutes_per_day,
        setup_minutes=kept.setup_minutes,
        courier_weekdays=kept.courier_weekdays,
    )


def plan_state(unit: Unit, today: date) -> str:
    """Return a short text that changes whenever something that a plan depends on has changed. Five queries.

    Every action on a job adds an event, so the last event stands for all of them.
    """
    week_now = WorkingWeek.objects.filter(unit=unit).values_list("version").first()
    days = OtherDays.objects.filter(unit=unit)
    reading = unit.room_readings.order_by("-pk").values_list("pk").first()
    parts = (
        today.isoformat(),
        newest_event(unit),
        (week_now or (0,))[0],
        days.count(),
        days.filter(dropped_at=None).count(),
        (reading or (0,))[0],
        unit.version,
    )
    return ":".join(map(str, parts))


def newest_event(unit: Unit) -> int:
    """Return the primary key of the newest event of the unit's jobs; 0 without any. One query."""
    newest = JobEvent.objects.filter(job__unit=unit).order_by("-pk").values_list("pk", flat=True)
    return newest.first() or 0


def latest_run(unit: Unit) -> PlanRun | None:
    """Return the unit's newest stored plan. One query."""
    return unit.plan_runs.order_by("-pk").first()


def plan_from_rows(run: PlanRun | None, keys: Mapping[tuple[str, int], str]) -> model.Plan | None:
    """Return a stored plan as the solver takes it, so that the next one changes little. One query."""
    if run is None:
        return None
    steps: defaultdict[str, list[model.Step]] = defaultdict(list)
    for row in run.steps.select_related("job"):
        reference = row.job.reference
        steps[reference].append(
            model.Step(
                kind=cast("model.Kind", row.kind),  # a constraint of the table holds it
                on=row.on,
                piece=keys.get((reference, row.piece_id), "") if row.piece_id else "",
            )
        )
    return model.Plan(
        today=run.today,
        jobs=tuple(model.JobPlan(key, tuple(of), None) for key, of in steps.items()),
        score=model.Score(late_days=run.late_days),
        method="solved" if run.how == PlanRun.How.SOLVED else "quick",
    )


def plan_rows(
    made: model.Plan, found: PlanInputs, run: PlanRun, before: Iterable[PlanStep]
) -> list[PlanStep]:
    """Return a plan's steps as unsaved rows; a step still on the day it was moved to keeps the reason."""
    moved = {(row.job_id, row.piece_id, row.kind): row for row in before if row.moved_from}
    rows: list[PlanStep] = []
    for job_plan in made.jobs:
        job = found.known[job_plan.key].job
        for step in job_plan.steps:
            piece = found.pieces.get((job_plan.key, step.piece))
            row = PlanStep(
                run=run,
                job=job,
                piece=piece,
                kind=step.kind,
                on=step.on,
                minutes=step.minutes,
                reason=step.reason,
                latest_on=step.latest_on,
                pinned=step.pinned,
                moved_from=step.moved_from,
                moved_reason=step.moved_reason,
            )
            earlier = moved.get((row.job_id, row.piece_id, row.kind))
            if row.moved_from is None and earlier and earlier.on == row.on:
                row.moved_from, row.moved_reason = earlier.moved_from, earlier.moved_reason
            rows.append(row)
    return rows


@dataclass(frozen=True, slots=True)
class _JobConverter:
    """Converts jobs of the bench to jobs of the solver."""

    kept: WorkingWeek
    looks: Mapping[int, tuple[str, str]]
    pins: Mapping[int, list[PlanPin]]
    by_courier: frozenset[int]
    drying: Mapping[str, model.Drying]
    habits: Habits
    today: date

    def job(self, known: JobNow) -> model.Job:
        job = known.job
        finish, backing = self.looks.get(job.pk, ("", ""))
        keys, is_whole = pieces_by_key(known), bool(known.facts.needs)
        minutes = self.kept.frame_minutes + self.kept.piece_minutes * len(keys)
        return model.Job(
            key=job.reference,
            pieces=tuple(
                self.piece(key, each) for key, each in keys.items() if each.facts.is_dated
            ),
            is_whole=is_whole,
            promised_on=job.promised_on if is_whole else None,
            frame_minutes=round(minutes * _share_left(known)),
            finish=finish,
            backing=backing,
            cure_days=self.kept.cure_days,
            by_courier=job.pk in self.by_courier,
            framed_on=_framed_on(known),
            is_ready=job.stage == Stage.READY,
            pins=tuple(_pin(each, keys) for each in self.pins.get(job.pk, ())),
        )

    def piece(self, key: str, each: piece_now.PieceNow) -> model.Piece:
        facts = each.facts
        poured_on = facts.poured_at.date() if facts.poured_at else None
        pour_from = facts.taken_at.date() if facts.taken_at else self.today
        pour_by = self.habits.last_pour_day(facts.taken_at) if facts.taken_at else pour_from
        return model.Piece(
            key=key,
            drying=self.days_of(each),
            pour_from=pour_from,
            pour_by=pour_by,
            poured_on=poured_on,
            demoulded_on=facts.demoulded_on,
            is_dry=facts.is_dry,
            on_rack=facts.demoulded_on is None or facts.rack_place is not None,
            volume_ml=0.0 if each.cast else each.mix.volume_ml,
            weighed_on=facts.weighed_on,
        )

    def days_of(self, each: piece_now.PieceNow) -> model.Drying:
        """Days of drying: the stored forecast of a demoulded cast, else the typical days of such a limb."""
        kept, out = each.forecast, each.facts.demoulded_on
        if kept and out:
            days = [max((on - out).days, 0) for on in (kept.early_on, kept.likely_on, kept.late_on)]
            return model.Drying(*sorted(days))
        return self.drying[each.piece.limb]


def _pins(unit: Unit) -> dict[int, list[PlanPin]]:
    found: defaultdict[int, list[PlanPin]] = defaultdict(list)
    for pin in PlanPin.objects.filter(job__unit=unit, taken_out_at=None):
        found[pin.job_id].append(pin)
    return found


def _pin(pin: PlanPin, keys: Mapping[str, piece_now.PieceNow]) -> model.Pin:
    of = next((key for key, each in keys.items() if each.piece.pk == pin.piece_id), "")
    return model.Pin(kind=cast("model.Kind", pin.kind), on=pin.on, piece=of)


def _drying(rack: forecasts.DryingRack) -> dict[str, model.Drying]:
    return {
        limb: model.Drying(days.early, days.likely, days.late)
        for limb, days in forecasts.typical_drying(rack).items()
    }


def _share_left(known: JobNow) -> float:
    if known.frame is None:
        return 1
    left = sum(step.at is None for step in known.frame.steps) / len(known.frame.steps)
    return max(left, LEAST_SHARE_LEFT)


def _framed_on(known: JobNow) -> date | None:
    """The day on which the frame was sealed, from which its finish cures."""
    sealed = [step.at for step in known.frame.steps if step.name == "sealed"] if known.frame else []
    return timezone.localdate(sealed[0]) if sealed and sealed[0] else None
