"""The jobs at the bench: the one way to read a job with all that its pieces went through."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import cached_property
from typing import TYPE_CHECKING, Any

from django.db.models import (
    Exists,
    OuterRef,
    Prefetch,
    Q,
    QuerySet,
    Subquery,
    prefetch_related_objects,
)
from django.utils import timezone

from bookings.sittings.models import ClayPrint, Sitting
from production.bench.piece_now import (
    PieceNow,
    habits,
    in_a_frame,
    piece_now,
    whole_cast,
)
from production.casts.mixes import mixing_of
from production.casts.models import Cast
from production.frames.models import Frame
from production.schedule import week
from production.schedule.facts import JobFacts, Planned
from production.schedule.models import PlanRun, PlanStep
from studio.accounts.models import Unit
from studio.jobs.models import Job, Piece
from studio.stages import Stage

if TYPE_CHECKING:
    from studio.jobs.querysets import JobQuerySet


# The planned steps by the primary keys of job and piece; the piece is None for a step of the whole job.
PlannedSteps = Mapping[tuple[int, int | None], Sequence[Planned]]


@dataclass(frozen=True)
class JobNow:
    """A job with its pieces as they are on a day, with planned steps and, while it is being framed, its frame."""

    job: Job
    pieces: tuple[PieceNow, ...]
    today: date
    planned: tuple[Planned, ...] = ()

    @property
    def frame(self) -> Frame | None:
        """Its frame while it is being framed."""
        return self.job.frame if self.job.stage == Stage.FRAMING else None

    @cached_property
    def facts(self) -> JobFacts:
        """The facts of the job from which the week is planned. No query."""
        return JobFacts(
            reference=self.job.reference,
            names=self.job.first_names,
            pieces=tuple(each.facts for each in self.pieces),
            promised_on=self.job.promised_on,
            framing_since=timezone.localdate(self.frame.started_at) if self.frame else None,
            steps_done=self.frame.done if self.frame else (),
            is_ready=self.job.stage == Stage.READY,
            planned=self.planned,
        )

    @property
    def can_be_framed(self) -> bool:
        return self.job.stage == Stage.DRYING and all(p.state == "dry" for p in self.pieces)

    @property
    def to_begin(self) -> tuple[week.Task, ...]:
        """Tasks that are due today and whose previous step is done."""
        plan = week.week([self.today], [self.facts], habits(self.job.unit), self.today)[0]
        return plan.to_begin.tasks

    @property
    def on_the_rack(self) -> list[PieceNow]:
        """Casts out of the mould and not in a frame yet, with or without a drying rack place."""
        if in_a_frame(self.job):
            return []
        return [piece for piece in self.pieces if piece.state in ("damp", "dry")]


def open_jobs(unit: Unit, now: datetime, among: "JobQuerySet | None" = None) -> list[JobNow]:
    """Return the unit's open jobs, or those `among` some, the soonest promised first. Ten queries."""
    jobs = unit.jobs.open() if among is None else unit.jobs.open().filter(pk__in=among)
    return _load(unit, jobs, timezone.localdate(now))


def begun_jobs(unit: Unit, now: datetime) -> list[JobNow]:
    """Return the open jobs of which a sitting is done, with the steps planned up to today; soonest promised first.

    Ten queries.
    """
    sat = Sitting.objects.filter(job=OuterRef("pk"), state=Sitting.State.DONE)
    begun = unit.jobs.open().filter(~Q(stage=Stage.BOOKED) | Exists(sat))
    return _load(unit, begun, timezone.localdate(now), until=timezone.localdate(now))


def due_jobs(unit: Unit, now: datetime) -> list[JobNow]:
    """Return the open jobs with a step at the bench planned up to today, with these steps; soonest promised first.

    Ten queries.
    """
    today = timezone.localdate(now)
    at_the_bench = _steps(unit).exclude(kind="hand_over")
    due = at_the_bench.filter(job=OuterRef("pk"), on__lte=today)
    return _load(unit, unit.jobs.open().filter(Exists(due)), today, until=today)


def job_on(job: Job, today: date) -> JobNow:
    """Return one job on a day, also one that has ended, with all casts and weighings. Ten queries, fewer for what is loaded already."""
    prefetch_related_objects([job], _pieces(), "pieces__mould")
    casts = Cast.objects.filter(piece__job=job).select_related("pour__plaster")
    return _jobs_now(job.unit, [job], casts.prefetch_related("weighings"), today)[0]


def week_plan(unit: Unit, days: Sequence[date], now: datetime) -> tuple[week.DayPlan, ...]:
    """Return what is due on each of these days, as seen at `now`. Ten queries."""
    return week.week(days, facts(unit, now), habits(unit), timezone.localdate(now))


def to_begin_today(jobs: Iterable[JobNow], today: date) -> week.DayPlan:
    """Return what of these jobs is due today and can be begun. No query."""
    return week.day_plan(today, [task for job in jobs for task in job.to_begin])


def facts(unit: Unit, now: datetime) -> list[JobFacts]:
    """Return the planning facts of all open jobs, the soonest promised first. Ten queries."""
    return [job.facts for job in open_jobs(unit, now)]


def _load(unit: Unit, jobs: "JobQuerySet", today: date, until: date = date.max) -> list[JobNow]:
    """Return these jobs, the soonest promised first, with their whole casts and the steps planned `until` a day."""
    found = list(jobs.soonest_first().select_related("frame").prefetch_related(_pieces()))
    casts = Cast.objects.whole().filter(piece__job__in=found).select_related("pour")
    return _jobs_now(unit, found, casts, today, until)


def _pieces() -> "Prefetch[Any, Any, Any]":
    return Prefetch("pieces", Piece.objects.select_related("child", "mould"))


def _jobs_now(
    unit: Unit, jobs: Sequence[Job], casts: Iterable[Cast], today: date, until: date = date.max
) -> list[JobNow]:
    of_piece: defaultdict[int, list[Cast]] = defaultdict(list)
    for cast in casts:
        of_piece[cast.piece_id].append(cast)
    pieces = {
        job.pk: [piece for piece in job.pieces.all() if not piece.left_off_at] for job in jobs
    }
    _load_prints([p for of in pieces.values() for p in of if not whole_cast(of_piece[p.pk])])
    mixing, planned = mixing_of(unit), _planned(unit, jobs, until)
    return [
        JobNow(
            job,
            tuple(
                piece_now(job, p, of_piece[p.pk], mixing, today, planned.get((job.pk, p.pk), ()))
                for p in pieces[job.pk]
            ),
            today,
            tuple(planned.get((job.pk, None), ())),
        )
        for job in jobs
    ]


def _load_prints(pieces: Sequence[Piece]) -> None:
    """Load the prints of pieces that are not poured, and their sittings. One query."""
    prints = ClayPrint.objects.select_related("sitting")
    prefetch_related_objects(pieces, Prefetch("prints", prints))


def _planned(unit: Unit, jobs: Sequence[Job], until: date) -> PlannedSteps:
    """Return where the newest plan has put the steps of these jobs `until` a day. One query."""
    found: defaultdict[tuple[int, int | None], list[Planned]] = defaultdict(list)
    for step in _steps(unit).filter(job__in=jobs, on__lte=until).order_by("on", "pk"):
        found[step.job_id, step.piece_id].append(
            Planned(step.kind, step.on, step.missed_on, step.note, step.pinned)
        )
    return found


def _steps(unit: Unit) -> QuerySet[PlanStep]:
    """Return the steps of the unit's newest plan."""
    newest = PlanRun.objects.filter(unit=unit).order_by("-pk").values("pk")[:1]
    return PlanStep.objects.filter(run=Subquery(newest))
