"""Tasks at the bench by day: facts and days in, tasks out. Pure; times are local.

The planner alone decides on which day a step is done; here the steps of its stored plan (`Planned`) that are still to
do become tasks, lines and buckets. A step whose day is past is carried to today with the reason.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

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


@dataclass(frozen=True, slots=True)
class Task:
    """One task: planned on `planned_on`, late after `due_on`.

    `by`: the time by which clay must be poured. `note`: why a task that is not late was moved.
    """

    kind: Kind
    job: JobFacts
    piece: PieceFacts | None
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
    """Return what the stored plan has still to be done of these jobs, from `today` on."""
    return [task for job in jobs for task in _of_job(job, habits, today)]


def is_to_weigh(piece: PieceFacts, today: date) -> bool:
    """Whether the plan has a demoulded cast weighed today, or had it on a day past."""
    steps = (step for step in piece.planned if step.kind == "weigh" and step.on <= today)
    return piece.demoulded_on is not None and any(_is_to_come(step, piece) for step in steps)


def is_covered(job: JobFacts, habits: Habits, today: date) -> bool:
    """Whether the stored plan holds all that the job still needs, on days that can follow one another."""
    tasks = plan([job], habits, today)
    last = [task for task in tasks if task.piece is None]
    if tuple(task.kind for task in last) != job.needs:
        return False
    for piece in job.pieces if job.is_on_the_bench else ():
        mine = [task for task in tasks if task.piece is piece]
        days = [task.planned_on for task in (*mine, *last)]
        if tuple(dict.fromkeys(task.kind for task in mine)) != piece.needs or days != sorted(days):
            return False
        if mine and mine[0].kind == "pour" and not _can_set(mine[0], mine[1], habits, today):
            return False
    return True


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


def _order(task: Task) -> tuple[int, bool, float, int, str]:
    by = task.by.timestamp() if task.by else 0.0
    place = task.piece.rack_place or 0 if task.piece and task.kind == "weigh" else 0
    return STEP_KINDS.index(task.kind), not task.is_late, by, place, task.job.reference


def _of_job(job: JobFacts, habits: Habits, today: date) -> list[Task]:
    tasks: list[Task] = []
    if job.is_on_the_bench:
        tasks = [task for piece in job.pieces for task in _of_piece(job, piece, habits, today)]
    for step in job.planned:
        if step.kind == job.framing_step and "frame" in job.needs:
            tasks.append(_frame(job, step, today))
        elif step.kind == "hand_over" and "hand_over" in job.needs:
            tasks.append(_hand_over(job, step, today))
    return tasks


def _of_piece(job: JobFacts, piece: PieceFacts, habits: Habits, today: date) -> list[Task]:
    tasks: list[Task] = []
    for step in piece.planned:
        if step.kind == "pour" and piece.taken_at and not piece.poured_at:
            tasks.append(_pour(job, piece, piece.taken_at, step, habits, today))
        elif step.kind == "demould" and not piece.demoulded_on:
            tasks.append(_demould(job, piece, step, habits, today))
        elif step.kind == "weigh" and _is_to_come(step, piece):
            weighing = _weigh(job, piece, step, today)
            # Fresh from the mould it is weighed as it comes out; and two weighings overdue are one.
            if all(each.kind == "pour" or each.planned_on < weighing.planned_on for each in tasks):
                tasks.append(weighing)
    return tasks


def _can_set(pour: Task, demould: Task, habits: Habits, today: date) -> bool:
    """Whether a piece is poured in time, or today, and demoulded no sooner than its plaster has set."""
    in_time = not pour.is_late or pour.planned_on == today
    return in_time and (demould.planned_on - pour.planned_on).days >= habits.mould_days


def _is_to_come(weighing: Planned, piece: PieceFacts) -> bool:
    """Whether a planned weighing is still to be done."""
    return not piece.is_dry and (piece.weighed_on is None or weighing.on > piece.weighed_on)


def _pour(
    job: JobFacts, piece: PieceFacts, taken_at: datetime, step: Planned, habits: Habits, today: date
) -> Task:
    by, due_on = habits.pour_by(taken_at), habits.last_pour_day(taken_at)
    planned_on = max(step.on, taken_at.date(), today)
    late_why = f"the clay was to be poured by {_hour(by)}" if planned_on > due_on else ""
    return Task("pour", job, piece, due_on, planned_on, late_why, by, _note(step, planned_on))


def _demould(job: JobFacts, piece: PieceFacts, step: Planned, habits: Habits, today: date) -> Task:
    possible_on = habits.demould_from(piece.poured_at).date() if piece.poured_at else today
    due_on = max(step.missed_on or step.on, possible_on)
    planned_on = max(step.on, possible_on, today)
    late_why = f"ready since {units.day(possible_on)}" if planned_on > due_on else ""
    return Task("demould", job, piece, due_on, planned_on, late_why, note=_note(step, planned_on))


def _weigh(job: JobFacts, piece: PieceFacts, step: Planned, today: date) -> Task:
    planned_on = max(step.on, today)
    due_on, last = step.on, "never weighed"
    if piece.weighed_on:
        last = f"last weighed {units.day(piece.weighed_on)}"
    elif piece.demoulded_on and planned_on == today:
        due_on = piece.demoulded_on
    late_why = f"due {units.day(due_on)}, {last}" if planned_on > due_on else ""
    return Task("weigh", job, piece, due_on, planned_on, late_why)


def _frame(job: JobFacts, step: Planned, today: date) -> Task:
    planned_on = max(step.on, today)
    due_on, late_why = planned_on, ""
    if job.promised_on:
        due_on = job.promised_on - DAY
        late_why = f"promised for {units.day(job.promised_on)}" if planned_on > due_on else ""
    return Task("frame", job, None, due_on, planned_on, late_why, note=_note(step, planned_on))


def _hand_over(job: JobFacts, step: Planned, today: date) -> Task:
    """Hand over on the promised day, sooner only if the owner has pinned it."""
    wanted_on = step.on if step.pinned else job.promised_on or step.on
    planned_on = max(wanted_on, step.on, today)
    due_on = job.promised_on or planned_on
    late_why = f"promised for {units.day(due_on)}" if planned_on > due_on else ""
    return Task("hand_over", job, None, due_on, planned_on, late_why)


def _note(step: Planned, planned_on: date) -> str:
    """Say why the plan moved a step, or that it was not done on its planned day."""
    return f"not done on {units.day(step.on)}" if step.on < planned_on else step.note


def _hour(at: datetime) -> str:
    return f"{units.day(at.date())}, {at:%H:%M}"
