"""The plan page: the days ahead, and each job with its promise."""

from collections.abc import Iterable, Mapping, Sequence, Set
from dataclasses import dataclass
from datetime import date, datetime
from itertools import groupby

from django.utils import timezone

from production.bench.jobs import JobNow, open_jobs
from production.planning.inputs import (
    PlanInputs,
    latest_run,
    plan_inputs,
    plan_rows,
    plan_state,
)
from production.planning.plan_runs import PLAN, quick_plan
from production.schedule.models import ByCourier, PlanRun, PlanStep
from production.schedule.week import STEP_KINDS, STEP_LABELS
from studio import units
from studio.accounts.models import Unit
from studio.work.models import Work

ORDER = {kind: place for place, kind in enumerate(STEP_KINDS)}


@dataclass(frozen=True, slots=True)
class Line:
    """Steps of one job and kind on one day, for one reason."""

    steps: tuple[PlanStep, ...]
    names: str
    reference: str

    @property
    def first(self) -> PlanStep:
        return self.steps[0]

    @property
    def words(self) -> str:
        return STEP_LABELS[self.first.kind]

    @property
    def what(self) -> str:
        """The pieces of the steps, or the names of the whole job."""
        limbs = ", ".join(str(step.piece) for step in self.steps if step.piece)
        return limbs or self.names

    @property
    def slack_days(self) -> int | None:
        first = self.first
        return (first.latest_on - first.on).days if first.latest_on else None

    @property
    def may_move(self) -> bool:
        return self.first.kind != "weigh"

    @property
    def moves_piece(self) -> str:
        """Primary key of the piece that the "move" link moves; empty for all pieces of the job."""
        return str(self.first.piece_id or "") if len(self.steps) == 1 else ""


@dataclass(frozen=True, slots=True)
class Day:
    """One day of the plan with its lines."""

    on: date
    lines: tuple[Line, ...]

    @property
    def minutes_words(self) -> str:
        """Minutes of demoulding and framing in words; empty without any."""
        minutes = sum(step.minutes for line in self.lines for step in line.steps)
        return f"{minutes} minutes of demoulding and framing" if minutes else ""


@dataclass(frozen=True, slots=True)
class JobLine:
    """The plan of one job: its steps, the day it goes home, and its promise."""

    reference: str
    names: str
    promised_on: date | None
    home_on: date
    why: str
    lines: tuple[Line, ...]
    by_courier: bool

    @property
    def slack_days(self) -> int | None:
        return (self.promised_on - self.home_on).days if self.promised_on else None

    @property
    def late_days(self) -> int:
        return max(0, -(self.slack_days or 0))

    @property
    def promise_words(self) -> str:
        """Whether the promise is kept, in words; empty without a promise."""
        if self.promised_on is None:
            return ""
        promised, late = units.day(self.promised_on), self.late_days
        return (
            f"{late} day{'' if late == 1 else 's'} after {promised}"
            if late
            else f"in time for {promised}"
        )


@dataclass(frozen=True, slots=True)
class PlanPage:
    """The current plan. `is_fresh`: made for this page only, so `run` is not stored."""

    run: PlanRun
    is_fresh: bool
    days: tuple[Day, ...]
    jobs: tuple[JobLine, ...]
    undated: tuple[JobNow, ...]
    working: Work | None

    @property
    def late(self) -> list[JobLine]:
        return [job for job in self.jobs if job.late_days]

    @property
    def gap_days(self) -> int | None:
        """Upper bound on how many fewer late days a better plan could have; None if unknown."""
        least = self.run.least_late_days
        return None if least is None else self.run.late_days - least


def plan_page(unit: Unit, now: datetime, *, by_job: bool = False) -> PlanPage:
    """Return the stored plan, or a quick one if something has changed since.

    Whether a courier takes a job is read only for the view `by_job`.
    """
    today = timezone.localdate(now)
    kept = latest_run(unit)
    working = unit.works.of_kind(PLAN).unfinished().first()
    if kept and kept.state == plan_state(unit, today):
        jobs = open_jobs(unit, now)
        steps = list(kept.steps.select_related("job", "piece__child"))
        return _page(kept, False, steps, jobs, working, _by_courier(jobs, by_job))
    found = plan_inputs(unit, now)
    run, steps = _at_once(found, kept, now)
    jobs = list(found.known.values())
    return _page(run, True, steps, jobs, working, _by_courier(jobs, by_job))


def _by_courier(jobs: Iterable[JobNow], asked: bool) -> Set[int]:
    if not asked:
        return frozenset()
    known = [each.job.pk for each in jobs]
    return set(ByCourier.objects.filter(job__in=known).values_list("job", flat=True))


def _at_once(
    found: PlanInputs, kept: PlanRun | None, now: datetime
) -> tuple[PlanRun, list[PlanStep]]:
    made = quick_plan(found)
    run = PlanRun(
        unit=found.unit,
        made_at=now,
        today=found.today,
        how=PlanRun.How.QUICK,
        late_days=made.score.late_days,
        least_late_days=made.bound_late_days,
        is_proven=made.is_proven,
    )
    earlier = kept.steps.exclude(moved_from=None) if kept else ()
    return run, plan_rows(made, found, run, earlier)


def _page(
    run: PlanRun,
    is_fresh: bool,
    steps: Sequence[PlanStep],
    jobs: Sequence[JobNow],
    working: Work | None,
    by_courier: Set[int],
) -> PlanPage:
    known = {job.job.pk: job for job in jobs}
    shown = [step for step in steps if step.kind in STEP_LABELS and step.job_id in known]
    by_day = sorted(shown, key=lambda step: step.on)
    return PlanPage(
        run=run,
        is_fresh=is_fresh,
        days=tuple(
            Day(on, tuple(_lines(of, known))) for on, of in groupby(by_day, key=lambda s: s.on)
        ),
        jobs=tuple(_job_lines(shown, steps, known, by_courier)),
        undated=tuple(job for job in jobs if not job.facts.needs),
        working=working,
    )


def _lines(steps: Iterable[PlanStep], known: Mapping[int, JobNow]) -> list[Line]:
    together: dict[tuple[int, int, str, str, bool], list[PlanStep]] = {}
    for step in steps:
        key = (ORDER[step.kind], step.job_id, step.why, step.moved_why, step.pinned)
        together.setdefault(key, []).append(step)
    return [
        Line(tuple(of), known[job].facts.names, known[job].job.reference)
        for (_, job, *_rest), of in sorted(together.items(), key=lambda pair: pair[0][:2])
    ]


def _job_lines(
    shown: Sequence[PlanStep],
    steps: Sequence[PlanStep],
    known: Mapping[int, JobNow],
    by_courier: Set[int],
) -> Iterable[JobLine]:
    of_job: dict[int, list[PlanStep]] = {}
    for step in shown:
        of_job.setdefault(step.job_id, []).append(step)
    why = {step.job_id: step.why for step in steps if step.kind == "ready"}
    why |= {step.job_id: step.why for step in steps if step.kind == "frame"}
    lines = [
        JobLine(
            reference=known[pk].job.reference,
            names=known[pk].facts.names,
            promised_on=known[pk].job.promised_on,
            home_on=max(step.on for step in of),
            why=why.get(pk, ""),
            lines=tuple(
                line
                for _, day in groupby(sorted(of, key=lambda s: s.on), key=lambda s: s.on)
                for line in _lines(day, known)
            ),
            by_courier=pk in by_courier,
        )
        for pk, of in of_job.items()
        if known[pk].facts.needs
    ]
    return sorted(lines, key=lambda line: (-line.late_days, line.home_on, line.reference))
