"""Tasks at the bench by day: facts and days in, tasks out. Pure; times are local.

Each piece is poured, demoulded and weighed until dry, then framed and handed over with its job. A step is on the
day that the stored plan gives it (`Planned`), or without one as early as possible. Overdue tasks are carried to
the first open day with the reason. Drying counts every day of the week.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from production.schedule.facts import DAY, Habits, JobFacts, Kind, PieceFacts, Planned
from studio import units

# In the order in which a piece goes through them.
STEP_LABELS: dict[str, str] = {
    "pour": "Pour",
    "demould": "Demould",
    "weigh": "Weigh",
    "frame": "Frame",
    "hand_over": "Hand over",
}

STEP_KINDS = tuple(STEP_LABELS)

# Clay that must be poured in the morning is poured on the day before: a sitting may fill it.
NOT_LEFT_TO_THE_MORNING = time(12)

WORKING_DAY_HOURS = 8


@dataclass(frozen=True, slots=True)
class Task:
    """One task: planned on `planned_on`, possible from `possible_on`, late after `due_on`.

    `by`: the time by which clay must be poured. `note`: why a task that is not late was moved.
    """

    kind: Kind
    job: JobFacts
    piece: PieceFacts | None
    possible_on: date
    due_on: date
    planned_on: date
    late_why: str = ""
    by: datetime | None = None
    note: str = ""

    @property
    def is_late(self) -> bool:
        return self.planned_on > self.due_on

    @property
    def expected_g(self) -> float | None:
        """Expected weight for a weighing, grams."""
        return self.piece.expected_g(self.planned_on) if self.piece else None

    @property
    def can_begin(self) -> bool:
        """Whether the step before it is done, not only planned."""
        if self.piece is None:
            all_dry = all(piece.is_dry for piece in self.job.pieces)
            framing = self.job.framing_since is not None or all_dry
            return self.job.is_ready or (self.kind == "frame" and framing)
        return {
            "pour": self.piece.is_taken,
            "demould": self.piece.poured_at is not None,
            "weigh": self.piece.demoulded_on is not None,
        }[self.kind]


@dataclass(frozen=True, slots=True)
class Line:
    """Tasks of one kind for one job and child on one day, late for the same reason if at all."""

    tasks: tuple[Task, ...]

    @property
    def first(self) -> Task:
        return self.tasks[0]

    @property
    def words(self) -> str:
        return STEP_LABELS[self.first.kind]

    @property
    def who(self) -> str:
        return self.first.piece.child if self.first.piece else self.first.job.names

    @property
    def limbs(self) -> str:
        return ", ".join(task.piece.limb for task in self.tasks if task.piece)

    @property
    def plaster_g(self) -> float:
        return sum(task.piece.plaster_g for task in self.tasks if task.piece)

    @property
    def water_g(self) -> float:
        return sum(task.piece.water_g for task in self.tasks if task.piece)

    @property
    def rows(self) -> "list[Line]":
        """The same split into rows of two tasks, for the paper."""
        return [Line(self.tasks[i : i + 2]) for i in range(0, len(self.tasks), 2)]


@dataclass(frozen=True, slots=True)
class Bucket:
    """One mix: the pours that it fills."""

    tasks: tuple[Task, ...]

    @property
    def plaster_g(self) -> float:
        return sum(task.piece.plaster_g for task in self.tasks if task.piece)

    @property
    def water_g(self) -> float:
        return sum(task.piece.water_g for task in self.tasks if task.piece)

    @property
    def words(self) -> str:
        return "; ".join(task.piece.name for task in self.tasks if task.piece)


@dataclass(frozen=True, slots=True)
class DayPlan:
    """One day's tasks in working order, and the plaster and water of its pours in grams."""

    on: date
    tasks: tuple[Task, ...]
    plaster_g: float
    water_g: float

    @property
    def to_begin(self) -> "DayPlan":
        """The same with only those tasks whose previous step is done."""
        return day_plan(self.on, [task for task in self.tasks if task.can_begin])

    @property
    def lines(self) -> list[Line]:
        """The tasks grouped by kind, job, child and reason."""
        together: dict[tuple[str, str, str, str, str], list[Task]] = {}
        for task in self.tasks:
            child = task.piece.child if task.piece else ""
            key = (task.kind, task.job.reference, child, task.late_why, task.note)
            together.setdefault(key, []).append(task)
        return [Line(tuple(tasks)) for tasks in together.values()]

    def buckets(self, bucket_ml: float, most_prints: int) -> list[Bucket]:
        """Divide the day's pours into mixes, each pour into the first mix with room for it (first fit)."""
        found: list[list[Task]] = []
        for task in self.tasks:
            if task.kind != "pour" or task.piece is None:
                continue
            room = (
                mix
                for mix in found
                if len(mix) < most_prints
                and sum(t.piece.slurry_ml for t in mix if t.piece) + task.piece.slurry_ml
                <= bucket_ml
            )
            mix = next(room, None)
            if mix is None:
                found.append([task])
            else:
                mix.append(task)
        return [Bucket(tuple(mix)) for mix in found]

    @property
    def mix_words(self) -> str:
        if not self.plaster_g:
            return ""
        return f"{units.kg(self.plaster_g)} of plaster, {units.kg(self.water_g)} of water"


def week(
    days: Sequence[date], jobs: Iterable[JobFacts], habits: Habits, today: date
) -> tuple[DayPlan, ...]:
    """Return the plan of each of these days as seen on `today`; past days are empty."""
    tasks = plan(jobs, habits, today)
    return tuple(day_plan(on, [task for task in tasks if task.planned_on == on]) for on in days)


def plan(jobs: Iterable[JobFacts], habits: Habits, today: date) -> list[Task]:
    """Return every task of these jobs from `today` on."""
    return [task for job in jobs for task in _of_job(job, habits, today)]


def day_plan(on: date, tasks: Iterable[Task]) -> DayPlan:
    """Return these tasks as one day's plan, in working order."""
    ordered = sorted(tasks, key=_order)
    poured = [task.piece for task in ordered if task.kind == "pour" and task.piece]
    return DayPlan(
        on,
        tuple(ordered),
        plaster_g=sum(piece.plaster_g for piece in poured),
        water_g=sum(piece.water_g for piece in poured),
    )


def pour_by(taken_at: datetime, habits: Habits) -> datetime:
    """Return when the clay of a print becomes too dry to pour."""
    return taken_at + timedelta(hours=habits.clay_rest_hours)


def last_pour_day(taken_at: datetime, habits: Habits) -> date:
    """Return the last day on which a print can be poured in time."""
    by = pour_by(taken_at, habits)
    on = by.date() - DAY if by.time() < NOT_LEFT_TO_THE_MORNING else by.date()
    return max(on, taken_at.date())


def _order(task: Task) -> tuple[int, bool, float, int, str]:
    by = task.by.timestamp() if task.by else 0.0
    place = task.piece.rack_place or 0 if task.piece and task.kind == "weigh" else 0
    return STEP_KINDS.index(task.kind), not task.is_late, by, place, task.job.reference


def _of_job(job: JobFacts, habits: Habits, today: date) -> list[Task]:
    if job.is_ready:
        return _hand_over(job, today, today)
    if job.framing_since:
        return _framed_and_home(job, job.framing_since, today)
    tasks: list[Task] = []
    ends: list[date | None] = []
    for piece in job.pieces:
        of_piece, ends_on = _of_piece(job, piece, habits, today)
        tasks += of_piece
        ends.append(ends_on)
    dry_on = [on for on in ends if on]
    if len(dry_on) == len(ends) and dry_on:
        tasks += _framed_and_home(job, max(dry_on), today)
    return tasks


def _of_piece(
    job: JobFacts, piece: PieceFacts, habits: Habits, today: date
) -> tuple[list[Task], date | None]:
    """Return a piece's tasks and the first day on which it can be framed; None without a print or sitting."""
    if piece.is_dry:
        return [], piece.dry_on or today
    if piece.demoulded_on:
        due = weighing_days(piece, habits, today)
        return _weighed(job, piece, due, piece.demoulded_on)
    if piece.poured_at:
        possible_on = (piece.poured_at + timedelta(hours=habits.demould_hours)).date()
        return _demoulded_on(job, piece, possible_on, habits, today)
    if piece.taken_at is None:
        return [], None
    poured = _poured(job, piece, piece.taken_at, habits, today)
    in_mould = habits.demould_hours
    wait_days = 0 if in_mould <= WORKING_DAY_HOURS else -(-in_mould // 24)
    rest, ends_on = _demoulded_on(job, piece, poured.planned_on + wait_days * DAY, habits, today)
    return [poured, *rest], ends_on


def _poured(
    job: JobFacts, piece: PieceFacts, taken_at: datetime, habits: Habits, today: date
) -> Task:
    by = pour_by(taken_at, habits)
    due_on = last_pour_day(taken_at, habits)
    step = piece.planned_for("pour")
    planned_on = max(step.on if step else due_on, taken_at.date(), today)
    late_why = f"the clay was to be poured by {_hour(by)}" if planned_on > due_on else ""
    note = _note(step, planned_on)
    return Task("pour", job, piece, taken_at.date(), due_on, planned_on, late_why, by, note)


def _demoulded_on(
    job: JobFacts, piece: PieceFacts, possible_on: date, habits: Habits, today: date
) -> tuple[list[Task], date]:
    step = piece.planned_for("demould")
    due_on = max(step.on if step else possible_on, possible_on)
    planned_on = max(due_on, today)
    late_why = f"ready since {units.day(possible_on)}" if planned_on > due_on else ""
    note = _note(step, planned_on)
    out = Task("demould", job, piece, possible_on, due_on, planned_on, late_why, note=note)
    # It is weighed fresh as it comes out; that is one piece of work.
    due = _planned_weighings(piece, planned_on + DAY, today) or _weighing_days(
        planned_on, None, planned_on + DAY, habits, today
    )
    rest, ends_on = _weighed(job, piece, due, planned_on)
    return [out, *rest], ends_on


def weighing_days(piece: PieceFacts, habits: Habits, today: date) -> dict[date, date]:
    """Return the days on which to weigh a damp cast, each with the day it was first due.

    On demoulding, half-way, and on the last two days, because two weighings a day apart prove that it is dry.
    Empty before it is demoulded.
    """
    if piece.is_dry or piece.demoulded_on is None:
        return {}
    first_on = piece.weighed_on + DAY if piece.weighed_on else piece.demoulded_on
    return _planned_weighings(piece, first_on, today) or _weighing_days(
        piece.demoulded_on, piece.dry_on, first_on, habits, today
    )


def _planned_weighings(piece: PieceFacts, first_on: date, today: date) -> dict[date, date]:
    """Return the weighing days of the stored plan from `first_on` on; empty if there are none."""
    due: dict[date, date] = {}
    for step in piece.planned:
        if step.kind == "weigh" and step.on >= first_on:
            due.setdefault(max(step.on, today), step.on)
    return due


def _weighing_days(
    out_on: date, dry_on: date | None, first_on: date, habits: Habits, today: date
) -> dict[date, date]:
    last_on = max(dry_on or out_on + habits.drying_days * DAY, today, first_on)
    wanted = {out_on, out_on + habits.drying_days // 2 * DAY, last_on - DAY, last_on}
    due: dict[date, date] = {}
    for on in sorted(day for day in wanted if day >= first_on):
        due.setdefault(max(on, today), on)
    return due


def _weighed(
    job: JobFacts, piece: PieceFacts, due: dict[date, date], out_on: date
) -> tuple[list[Task], date]:
    tasks = [
        Task(
            "weigh",
            job,
            piece,
            possible_on=out_on,
            due_on=due_on,
            planned_on=planned_on,
            late_why=_why_weigh(piece, due_on) if planned_on > due_on else "",
        )
        for planned_on, due_on in due.items()
    ]
    return tasks, max(due) + DAY


def _why_weigh(piece: PieceFacts, due_on: date) -> str:
    since = f"last weighed {units.day(piece.weighed_on)}" if piece.weighed_on else "never weighed"
    return f"due {units.day(due_on)}, {since}"


def _framed_and_home(job: JobFacts, possible_on: date, today: date) -> list[Task]:
    step = job.planned_for("frame")
    planned_on = max(step.on if step else possible_on, possible_on, today)
    due_on = planned_on if job.promised_on is None else job.promised_on - DAY
    late_why = ""
    if planned_on > due_on and job.promised_on:
        late_why = f"promised for {units.day(job.promised_on)}"
    note = _note(step, planned_on)
    framed = Task("frame", job, None, possible_on, due_on, planned_on, late_why, note=note)
    return [framed, *_hand_over(job, planned_on, today)]


def _hand_over(job: JobFacts, possible_on: date, today: date) -> list[Task]:
    """Plan the hand-over on the promised day, earlier only if the owner has pinned it there."""
    step = job.planned_for("hand_over")
    promised_on = job.promised_on or (step.on if step else None)
    if promised_on is None:
        return []
    earliest_on = max(possible_on, today)
    wanted_on = step.on if step and step.pinned else promised_on
    planned_on = max(wanted_on, step.on if step else earliest_on, earliest_on)
    late = job.promised_on is not None and planned_on > job.promised_on
    late_why = f"promised for {units.day(promised_on)}" if late else ""
    return [Task("hand_over", job, None, possible_on, promised_on, planned_on, late_why)]


def _note(step: Planned | None, planned_on: date) -> str:
    """Say why the plan moved a step, or that it was not done on its planned day."""
    if step is None:
        return ""
    if step.on < planned_on:
        return f"not done on {units.day(step.on)}"
    return step.note


def _hour(at: datetime) -> str:
    return f"{units.day(at.date())}, {at:%H:%M}"
