"""The jobs in hand as they stand at the bench: read in six flat queries, kept from look to look."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

from django.db.models import Exists, Model, OuterRef, Q, QuerySet, Subquery
from django.utils import timezone

from bookings.models import Consent, Impression, Photo, Sitting
from production import week
from production.plan.reasons import words
from production.queries.bench import PieceNow, habits, in_a_frame, pieces_on
from production.queries.mixes import Mixing, keep_mixing, mixing_of
from production.queries.pieces import local_day
from production.queries.slips import FrameNow, Lying, framed, lying, steps_of
from studio.kept import Kept, Row, by_first, columns, instance, question
from studio.models import Child, Family, Job, Piece, Unit
from studio.stages import OPEN, Stage

if TYPE_CHECKING:
    from production.models import Cast


@dataclass(frozen=True, slots=True)
class JobNow:
    """A job in hand on a day. Kept and shared between looks: read it, never change it or its rows."""

    job: Job
    pieces: tuple[PieceNow, ...]
    facts: week.JobFacts
    to_begin: tuple[week.Task, ...]  # what the plan has for today and can be begun
    lying: tuple[Lying, ...]  # on the rack or beside it
    frame: FrameNow | None

    @property
    def can_be_framed(self) -> bool:
        return self.job.stage == Stage.DRYING and all(p.state == "dry" for p in self.pieces)


def in_hand(unit: Unit, now: datetime) -> list[JobNow]:
    """The unit's open jobs, the soonest promised first: nine queries, and work for what changed.

    What a job shows has to be among the rows read here, among the columns of the unit, or in its mixing.
    """
    return _as_they_stand(unit, None, local_day(now))


def job_on(job: Job, today: date) -> JobNow:
    """One job on a day, also one that has ended: six queries."""
    return _as_they_stand(job.unit, job.pk, today)[0]


def _as_they_stand(unit: Unit, only: int | None, today: date) -> list[JobNow]:
    zone = timezone.get_current_timezone_name()
    settings = tuple(getattr(unit, each.attname) for each in unit._meta.concrete_fields)
    mixing = mixing_of(unit)
    asked = (_pieces, _prints, _casts, _weighings, _steps)
    pieces, prints, casts, weighings, steps = (by_first(each.raw(unit.pk, only)) for each in asked)
    return [
        _kept.of(
            pk,
            (
                *(today, zone, settings, mixing, row, pieces[pk], prints[pk]),
                *(casts[pk], weighings[pk], steps[pk]),
            ),
        )
        for row in _jobs.raw(unit.pk, only)
        for pk in [row[0]]
    ]


def _which(job: str, unit_pk: int, only: int | None) -> Q:
    """One job of the unit, or all of them in hand, as seen from `job`: "piece__job__"."""
    chosen = {f"{job}stage__in": OPEN} if only is None else {f"{job}pk": only}
    return Q(**{f"{job}unit": unit_pk}, **chosen)


@question
def _jobs(unit_pk: int, only: int | None) -> "QuerySet[Job, Row]":
    from production.models import Frame  # noqa: PLC0415 - models import this package

    finished = Photo.objects.filter(job=OuterRef("pk"), kind="finished")
    keep = Consent.objects.standing().filter(family=OuterRef("family"), purpose="keep")
    return (
        Job.objects.filter(_which("", unit_pk, only))
        .soonest_first()
        .values_list(
            *("pk", Exists(keep), Exists(finished)),
            *columns(Job),
            *columns(Family, "family__"),
            *columns(Frame, "frame__"),
        )
    )


@question
def _pieces(unit_pk: int, only: int | None) -> "QuerySet[Piece, Row]":
    from production.models import Mould  # noqa: PLC0415 - models import this package

    return (
        Piece.objects.filter(_which("job__", unit_pk, only))
        .order_by("pk")
        .values_list(
            *("job", *columns(Piece), *columns(Child, "child__"), *columns(Mould, "mould__"))
        )
    )


@question
def _prints(unit_pk: int, only: int | None) -> "QuerySet[Impression, Row]":
    return (
        Impression.objects.filter(_which("piece__job__", unit_pk, only))
        .order_by("pk")
        .values_list("piece__job", *columns(Impression), *columns(Sitting, "sitting__"))
    )


@question
def _casts(unit_pk: int, only: int | None) -> "QuerySet[Cast, Row]":
    from production.models import Cast, Plaster, Pour  # noqa: PLC0415 - models import this package

    return (
        Cast.objects.filter(_which("piece__job__", unit_pk, only))
        .order_by("pk")
        .values_list(
            *("piece__job", *columns(Cast), *columns(Pour, "pour__")),
            *columns(Plaster, "pour__plaster__"),
        )
    )


@question
def _weighings(unit_pk: int, only: int | None) -> "QuerySet[Any, Row]":
    from production.models import Weighing  # noqa: PLC0415 - models import this package

    return (
        Weighing.objects.filter(_which("cast__piece__job__", unit_pk, only))
        .order_by("at", "pk")
        .values_list("cast__piece__job", *columns(Weighing))
    )


@question
def _steps(unit_pk: int, only: int | None) -> "QuerySet[Any, Row]":
    """Of the plan that is kept: where each step of a job stands, and why."""
    from production.models import PlanRun, PlanStep  # noqa: PLC0415 - models import this package

    newest = PlanRun.objects.filter(unit=unit_pk).order_by("-pk").values("pk")[:1]
    return (
        PlanStep.objects.filter(_which("job__", unit_pk, only), run=Subquery(newest))
        .order_by("on", "pk")
        .values_list(
            *("job", "piece", "kind", "on", "reason", "moved_from", "moved_reason", "pinned"),
        )
    )


# The day, the zone in which times are read, the unit's columns, how it mixes, the job's row and what hangs on it.
_Facts = tuple[date, str, Row, Mixing, Row, list[Row], list[Row], list[Row], list[Row], list[Row]]


def _job_now(known: _Facts) -> JobNow:
    today, _, settings, mixing, row, pieces_rows, prints, casts, weighings, step_rows = known
    (job_row,) = _jobs.read([row])
    unit = Unit(*settings)
    keep_mixing(unit, mixing)
    job = _job(job_row[3:], unit)
    job.__dict__["_prefetched_objects_cache"] = {
        "pieces": _pieces_of(job, pieces_rows, prints, casts, weighings)
    }
    planned = _planned(step_rows)
    pieces = tuple(
        replace(each, planned=tuple(planned[each.piece.pk])) for each in pieces_on(job, today)
    )
    frame = getattr(job, "frame", None)
    facts = replace(facts_of(job, pieces), planned=tuple(planned[None]))
    out = [p for p in pieces if p.state in ("damp", "dry") and not in_a_frame(job)]
    return JobNow(
        job,
        pieces,
        facts,
        to_begin=week.week([today], [facts], habits(job.unit), today)[0].to_begin.tasks,
        lying=tuple(lying(p) for p in out),
        frame=framed(job, frame, wants_photo=bool(job_row[1]) and not job_row[2])
        if frame and job.stage == Stage.FRAMING
        else None,
    )


def facts_of(job: Job, pieces: Iterable[PieceNow]) -> week.JobFacts:
    """What the plan asks of a job; no query where its frame is loaded."""
    framing = job.stage == Stage.FRAMING
    return week.JobFacts(
        reference=job.reference,
        names=job.first_names,
        pieces=tuple(each.facts for each in pieces),
        promised_on=job.promised_on,
        framing_since=local_day(job.frame.started_at) if framing else None,
        steps_done=tuple(s.name for s in steps_of(job.frame) if s.at) if framing else (),
        is_ready=job.stage == Stage.READY,
    )


def _planned(rows: list[Row]) -> defaultdict[int | None, list[week.Planned]]:
    """By the primary key of the piece; None for what concerns the whole job."""
    found: defaultdict[int | None, list[week.Planned]] = defaultdict(list)
    for _, piece, kind, on, why, moved_from, moved_why, pinned in _steps.read(rows):
        said, moved_said = words(why, on), words(moved_why, on)
        found[piece].append(week.Planned(kind, on, said, moved_from, moved_said, pinned))
    return found


def _job(values: list[Any], unit: Unit) -> Job:
    """The job with its unit, its family and, if it has one, its frame."""
    from production.models import Frame  # noqa: PLC0415 - models import this package

    job: Job
    job, family, frame = _split(values, Job, Family, Frame)
    _join(job, unit=unit, family=family, frame=frame)
    _join(frame, job=job)
    return job


def _pieces_of(
    job: Job, pieces: list[Row], prints: list[Row], casts: list[Row], weighings: list[Row]
) -> list[Piece]:
    """The job's pieces with child, mould, prints, casts and weighings: lists that hold all there is."""
    from production.models import Mould  # noqa: PLC0415 - models import this package

    printed = _prints_by_piece(prints)
    casted = _casts_by_piece(casts, weighings)
    found: list[Piece] = []
    for row in _pieces.read(pieces):
        piece, child, mould = _split(row[1:], Piece, Child, Mould)
        _join(piece, job=job, child=child, mould=mould)
        _join(mould, piece=piece)
        piece.__dict__["_prefetched_objects_cache"] = {
            "impressions": printed[piece.pk],
            "casts": casted[piece.pk],
        }
        for each in (*printed[piece.pk], *casted[piece.pk]):
            _join(each, piece=piece)
        found.append(piece)
    return found


def _prints_by_piece(rows: list[Row]) -> defaultdict[int, list[Impression]]:
    found: defaultdict[int, list[Impression]] = defaultdict(list)
    for row in _prints.read(rows):
        each, sitting = _split(row[1:], Impression, Sitting)
        _join(each, sitting=sitting)
        found[each.piece_id].append(each)
    return found


def _casts_by_piece(rows: list[Row], weighings: list[Row]) -> "defaultdict[int, list[Cast]]":
    from production.models import Cast, Plaster, Pour, Weighing  # noqa: PLC0415 - as above

    weighed: defaultdict[int, list[Weighing]] = defaultdict(list)
    for row in _weighings.read(weighings):
        (weighing,) = _split(row[1:], Weighing)
        weighed[weighing.cast_id].append(weighing)
    found: defaultdict[int, list[Cast]] = defaultdict(list)
    for row in _casts.read(rows):
        each, pour, plaster = _split(row[1:], Cast, Pour, Plaster)
        _join(pour, plaster=plaster)
        _join(each, pour=pour)
        each.__dict__["_prefetched_objects_cache"] = {"weighings": weighed[each.pk]}
        found[each.piece_id].append(each)
    return found


def _split(values: list[Any], *models: type[Model]) -> list[Any]:
    """The instances whose columns stand one after the other."""
    found, at = [], 0
    for model in models:
        found.append(instance(model, values[at:]))
        at += len(model._meta.concrete_fields)
    return found


def _join(row: Model | None, **others: Model | None) -> None:
    """Hang other rows on this one, as `select_related` would."""
    if row is not None:
        row._state.fields_cache.update(others)


_kept = Kept(_job_now)
