"""Recording in one go what was ticked on the printed sheet; each line is an action of its own."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from functools import partial
from typing import Any
from uuid import UUID, uuid5

from django.utils import timezone

from production.bench import actions, framing, jobs, weighing
from production.bench.checks import MOST_G
from production.casts import forecasts
from production.casts.models import Cast
from production.number_parsing import parse_number
from production.schedule import week
from production.working_week.calendar import working_week
from studio.accounts.models import Unit, User
from studio.jobs.models import Job, JobEvent, Piece
from studio.stages import Refused, Stage

GONE = "A line that you filled in is no longer on today’s list: it was written down already, or the job has moved."

Write = Callable[[UUID], object]


@dataclass(frozen=True, slots=True)
class SheetEntry:
    """One ticked line: its form field, its words, and the action that records it."""

    name: str
    words: str
    write: Write


@dataclass
class Sheet:
    """Today's list with the submitted values, errors by form field, and what was recorded."""

    plan: week.DayPlan
    buckets: list[week.Bucket]
    ticked: Mapping[str, str] = field(default_factory=dict)
    errors: dict[str, str] = field(default_factory=dict)
    done: list[str] = field(default_factory=list)

    @property
    def rest(self) -> list[week.Task]:
        """All tasks but the pours, which are listed by bucket."""
        return [task for task in self.plan.tasks if task.kind != "pour"]

    @property
    def reasons(self) -> list[str]:
        """The errors, each once."""
        return list(dict.fromkeys(self.errors.values()))

    @property
    def rows(self) -> "list[Row]":
        """The tasks but the pours, each with its submitted value and error."""
        return [Row(task, self) for task in self.rest]


@dataclass(frozen=True)
class Row:
    """One line of the list with its submitted value and error."""

    task: week.Task
    sheet: Sheet

    @property
    def written(self) -> str:
        return self.sheet.ticked.get(f"mass-{self._cast_pk}", "")

    @property
    def error(self) -> str:
        names = [f"mass-{self._cast_pk}", f"out-{self._cast_pk}"]
        if self.task.piece is None:
            of_frame = f"frame-{self.task.job.reference}"
            names = [name for name in self.sheet.errors if name.startswith(of_frame)]
        return " ".join(self.sheet.errors[name] for name in names if name in self.sheet.errors)

    @property
    def not_yet(self) -> str:
        """What must be done before it; empty if it can be done now."""
        if self.task.can_begin or self.task.kind == "hand_over":
            return ""
        before = {"demould": "poured", "weigh": "out of its mould", "frame": "dry"}
        return f"once it is {before.get(self.task.kind, 'begun')}"

    @property
    def _cast_pk(self) -> int:
        return self.task.piece.cast_pk if self.task.piece else 0


def sheet_of_today(unit: Unit, now: datetime, ticked: Mapping[str, str] | None = None) -> Sheet:
    """Return today's list as printed on the weekly sheet. Twelve queries."""
    plan = jobs.week_plan(unit, [timezone.localdate(now)], now)[0]
    return Sheet(plan, plan.buckets(*bucket_of(unit)), ticked or {})


def bucket_of(unit: Unit) -> tuple[float, int]:
    """Return the volume of a bucket in ml and the most prints poured from it. Two queries."""
    return forecasts.workshop(unit).bucket_ml, working_week(unit).moulds_per_pour


def tick_off(unit: Unit, sheet: Sheet, *, by: User, at: datetime, key: UUID) -> None:
    """Record everything ticked, each line under a key of its own; put refusals into `sheet.errors`.

    Nothing is recorded if a weight cannot be parsed.
    """
    entries = list(_entries(unit, sheet, by, at))
    if sheet.errors:
        return
    gone = _names_sent(sheet) - _names_on(sheet) - _names_done(unit, sheet, key)
    sheet.errors |= dict.fromkeys(sorted(gone), GONE)
    for entry in entries:
        try:
            entry.write(uuid5(key, entry.name))
        except Refused as refused:
            sheet.errors[entry.name] = str(refused)
        else:
            sheet.done.append(entry.words)


def remaining_sheet(unit: Unit, now: datetime, before: Sheet) -> Sheet:
    """Return the current list after refusals, with the refused values still filled in."""
    left = sheet_of_today(unit, now, {name: before.ticked.get(name, "") for name in before.errors})
    left.errors = before.errors
    return left


def _names_sent(sheet: Sheet) -> set[str]:
    return {
        name
        for name, written in sheet.ticked.items()
        if name.partition("-")[0] in ("pour", "out", "mass", "frame") and written.strip()
    }


def _names_on(sheet: Sheet) -> set[str]:
    """Return the form fields of all lines on the list."""
    names = {f"pour-{t.piece.piece_pk}" for b in sheet.buckets for t in b.tasks if t.piece}
    for task in sheet.rest:
        if task.piece:
            names |= {f"out-{task.piece.cast_pk}", f"mass-{task.piece.cast_pk}"}
        else:
            names |= {f"frame-{task.job.reference}-{step}" for step in framing.FRAME_STEPS}
    return names


def _names_done(unit: Unit, sheet: Sheet, key: UUID) -> set[str]:
    """Return the form fields already recorded by an earlier request with the same key. Two queries."""
    names = {uuid5(key, name): name for name in _names_sent(sheet)}
    events = JobEvent.objects.filter(job__unit=unit, key__in=names).values_list("key", flat=True)
    casts = unit.casts.filter(pour__key__in=names).values_list("piece", flat=True)
    return {names[each] for each in events} | {f"pour-{piece}" for piece in casts}


def _entries(unit: Unit, sheet: Sheet, by: User, at: datetime) -> Iterator[SheetEntry]:
    who = {"by": by, "at": at}
    for bucket in sheet.buckets:
        yield from _pour(unit, sheet, bucket, who)
    for task in sheet.rest:
        if task.piece and task.kind in ("demould", "weigh"):
            yield from _of_cast(unit, sheet, task, who)
        elif task.kind == "frame":
            yield from _of_frame(unit, sheet, task, who)


def _pour(
    unit: Unit, sheet: Sheet, bucket: week.Bucket, who: dict[str, Any]
) -> Iterator[SheetEntry]:
    poured = [
        task.piece
        for task in bucket.tasks
        if task.piece and f"pour-{task.piece.piece_pk}" in sheet.ticked
    ]
    if not poured:
        return
    plaster_g = round(sum(piece.plaster_g for piece in poured))
    water_g = round(sum(piece.water_g for piece in poured))

    def write(key: UUID) -> object:
        pieces = Piece.objects.filter(job__unit=unit, pk__in=[each.piece_pk for each in poured])
        return actions.pour(
            unit,
            pieces=pieces.select_related("child", "job"),
            plaster_g=plaster_g,
            water_g=water_g,
            consistency=round(100 * water_g / plaster_g),
            kind=unit.plasters.in_use().filter(usual=True).first(),  # the bucket is of it
            key=key,
            **who,
        )

    words = f"poured {'; '.join(each.name for each in poured)}"
    yield SheetEntry(f"pour-{poured[0].piece_pk}", words, write)


def _of_cast(
    unit: Unit, sheet: Sheet, task: week.Task, who: dict[str, Any]
) -> Iterator[SheetEntry]:
    piece = task.piece
    if piece is None or not piece.cast_pk:
        return
    out, mass = f"out-{piece.cast_pk}", f"mass-{piece.cast_pk}"

    def cast() -> Cast:
        return unit.casts.with_people().get(pk=piece.cast_pk)

    if task.kind == "demould" and out in sheet.ticked:
        yield SheetEntry(
            out, f"{piece.name} out", lambda key: actions.demould(cast(), key=key, **who)
        )
    written = sheet.ticked.get(mass, "").strip()
    if not written:
        return
    try:
        mass_g = read_grams(written)
    except ValueError as unread:
        sheet.errors[mass] = str(unread)
        return
    yield SheetEntry(
        mass,
        f"{piece.name} {mass_g:g} g",
        lambda key: weighing.weigh(cast(), mass_g=mass_g, key=key, **who),
    )


def _of_frame(
    unit: Unit, sheet: Sheet, task: week.Task, who: dict[str, Any]
) -> Iterator[SheetEntry]:
    reference = task.job.reference
    names = [
        step
        for step in framing.FRAME_STEPS
        if f"frame-{reference}-{step}" in sheet.ticked and step not in task.job.steps_done
    ]
    if not names:
        return
    glazed = f"open-{reference}" not in sheet.ticked

    def job() -> Job:
        return unit.jobs.get(reference=reference)

    def tick(step: str, key: UUID) -> object:
        return framing.tick_frame(job(), step=step, key=key, **who)

    if task.job.framing_since is None:
        yield SheetEntry(
            f"frame-{reference}",
            f"{task.job.names} into the frame",
            lambda key: framing.start_framing(
                job(), seen=Stage.DRYING, glazed=glazed, key=key, **who
            ),
        )
    for step in names:
        yield SheetEntry(
            f"frame-{reference}-{step}",
            f"{task.job.names} {step}",
            partial(tick, step),
        )


def read_grams(written: str) -> float:
    """Parse a weight in grams. Raises ValueError with a sentence."""
    try:
        mass_g = parse_number(written)
    except ValueError:
        raise ValueError("Write the weight in grams, like 352 or 352.5.") from None
    if not 0 < mass_g < MOST_G:  # also not a number
        raise ValueError("A weight lies above 0 g and below 50 kg.")
    return mass_g
