"""The finished plan from a draft: each job's steps, how long each can wait, the reasons and the warnings."""

from collections.abc import Callable

from production.planning.solver.day_grid import NEVER, Cast, Grid, Task
from production.planning.solver.draft import Draft, Load, PreviousDays
from production.planning.solver.model import JobPlan, Kind, Step
from production.schedule.reasons import PINNED, UNCHANGED, Reason
from studio import units

# So few calendar days between the planned framing and the last one in time call for daily weighing.
FEW_DAYS = 4


class PlanBuilder:
    """Builds the plan of a draft. `before`: the days of the previous plan, negative where past."""

    def __init__(self, grid: Grid, draft: Draft, before: PreviousDays) -> None:
        self.grid = grid
        self.draft = draft
        self.before = before
        self.load = _load_of(grid, draft)

    def job(self, task: Task) -> JobPlan:
        """Build the plan of one job."""
        draft, grid = self.draft, self.grid
        home = draft.home(grid, task)
        promised_on = task.job.promised_on
        if home >= NEVER:
            why = "There is no day within two years on which it could be done."
            return JobPlan(task.job.key, (), None, promised_on, warnings=(*task.warnings, why))
        steps = self._steps(task, home)
        return JobPlan(
            key=task.job.key,
            steps=tuple(sorted(steps, key=lambda step: (step.on, _ORDER[step.kind], step.piece))),
            home_on=grid.date(home) if task.job.is_whole else None,
            promised_on=promised_on,
            late_days=grid.late_days(task, home),
            warnings=tuple(task.warnings + self._warnings(task, home)),
        )

    def _steps(self, task: Task, home: int) -> list[Step]:
        frame_by = self._frame_by(task, home)
        steps: list[Step] = []
        for number, cast in enumerate(task.casts):
            steps += self._cast_steps(task, number, cast, frame_by)
        if not task.job.is_whole:
            return steps
        if task.frame:
            steps.append(self._frame_step(task, frame_by))
        if not task.job.is_ready:
            steps.append(self._ready_step(task))
        steps.append(self._home_step(task, home))
        return steps

    def _warnings(self, task: Task, home: int) -> list[str]:
        said = []
        for number, cast in enumerate(task.casts):
            where = (task.index, number)
            if self.draft.pour.get(where, 0) > cast.pour_by:
                by = self._day(cast.pour_by)
                said.append(
                    f"{cast.piece.key}: the clay is too dry after {by}, and no pouring is free."
                )
            if where in self.draft.without_place:
                said.append(
                    f"{cast.piece.key}: no place on the rack comes free, it lies beside it."
                )
        if task.frame and self.draft.frame[task.index] > task.frame_until:
            said.append(
                "Its framing or hand-over cannot be where you pinned it: the days before are full."
            )
        elif task.home_pin is not None and home != task.home_pin:
            said.append("Its hand-over cannot be where you pinned it: it is ready too late.")
        return said

    # --- how long a step can wait -------------------------------------------------------------

    def _frame_by(self, task: Task, home: int) -> int | None:
        """The last day of framing that makes the job no later than promised, or than planned if that is later."""
        if task.promised is None or not task.frame:
            return None
        framed = self.draft.frame[task.index]
        last = max(task.promised, home)
        day = framed
        while day < min(framed + 366, NEVER) and self.grid.home(task, day + 1) <= last:
            day += 1
        return self.grid.open_until(day, framed)

    def _latest(self, day: int | None, planned: int) -> int | None:
        return None if day is None else self.grid.open_until(max(day, planned), planned)

    # --- steps --------------------------------------------------------------------------------

    def _cast_steps(self, task: Task, number: int, cast: Cast, frame_by: int | None) -> list[Step]:
        steps: list[Step] = []
        where, bench = (task.index, number), self.grid.bench
        out_by = None if frame_by is None else frame_by - cast.dry
        if cast.pour:
            day = self.draft.pour[where]
            pour_by = (
                cast.pour_by if out_by is None else min(cast.pour_by, out_by - bench.mould_days)
            )
            why = PINNED if cast.pour_pinned else self._why_pour(cast, day)
            steps.append(
                self._step(
                    task, "pour", day, why, self._latest(pour_by, day), cast.pour_pinned, cast
                )
            )
        if cast.demould:
            day = self.draft.demould[where]
            why = PINNED if cast.demould_pinned else self._why_out(task, number, cast, day)
            latest = self._latest(out_by, day)
            steps.append(self._step(task, "demould", day, why, latest, cast.demould_pinned, cast))
        return steps + self._weighings(task, number, cast, frame_by)

    def _weighings(self, task: Task, number: int, cast: Cast, frame_by: int | None) -> list[Step]:
        """Plan the weighings: at demoulding, half-way, when it is as likely dry as not, and twice before framing.

        If the promise leaves few days for the framing, weigh daily from the likely day on: the sooner a cast is known
        to be dry the better.
        """
        if cast.piece.is_dry:
            return []
        grid, piece = self.grid, cast.piece
        framed = self.draft.frame[task.index]
        out = self.draft.demould.get((task.index, number), grid.day(piece.demoulded_on))
        likely = out + round(piece.drying.likely_days)
        wanted = {
            out: "fresh" if cast.demould else "not_weighed",
            out + int(piece.drying.likely_days) // 2: "half_way",
            likely: "likely",
            self._open_before(framed): "two_weighings",
            framed: "before_framing",
        }
        if frame_by is not None and frame_by - framed <= FEW_DAYS:
            wanted = dict.fromkeys(range(likely, framed), "few_days") | wanted
        after = grid.day(piece.weighed_on) if piece.weighed_on else out - 1
        days: dict[int, str] = {}
        for day, code in sorted(wanted.items()):
            on = grid.next_open(max(day, 0))
            if after < day and on <= framed and (on != framed or grid.open[framed]):
                days[on] = code
        return [
            self._step(task, "weigh", day, ((code,),), None, False, cast)
            for day, code in days.items()
        ]

    def _open_before(self, day: int) -> int:
        return self.grid.open_until(day - 1, 0)

    def _frame_step(self, task: Task, frame_by: int | None) -> Step:
        day = self.draft.frame[task.index]
        why = PINNED if task.frame_pinned else self._why_frame(task, day)
        return self._step(task, "frame", day, why, frame_by, task.frame_pinned)

    def _ready_step(self, task: Task) -> Step:
        grid = self.grid
        framed = self.draft.frame.get(task.index, 0)
        cured = framed + task.job.cure_days if task.frame else task.cured
        why: Reason = (("framed",),)
        if task.job.cure_days:
            why = (("cures", self._iso(cured)),)
        on = grid.ready(task, framed)
        return self._step(task, "ready", on, why + self._closed(cured, on), None, False)

    def _home_step(self, task: Task, home: int) -> Step:
        ready = self.grid.ready(task, self.draft.frame.get(task.index, 0))
        pinned = task.home_pin == home
        if pinned:
            why = PINNED
        elif task.job.by_courier and home > ready:
            why = (("courier", self._iso(home)),)
        else:
            why = (("ready",),)
        latest = None if task.promised is None else max(task.promised, home)
        return self._step(task, "hand_over", home, why, latest, pinned)

    def _step(
        self,
        task: Task,
        kind: Kind,
        day: int,
        why: Reason,
        latest: int | None,
        pinned: bool,
        cast: Cast | None = None,
    ) -> Step:
        piece = cast.piece.key if cast else ""
        before = self.before.get((task.job.key, kind, piece), day)
        moved_from = None if before == day or kind == "weigh" else self.grid.date(before)
        return Step(
            kind=kind,
            on=self.grid.date(day),
            piece=piece,
            reason=why,
            latest_on=None if latest is None else self.grid.date(latest),
            pinned=pinned,
            minutes=self._minutes(task, kind),
            moved_from=moved_from,
            moved_reason=self._why_moved(before, why) if moved_from else (),
        )

    def _minutes(self, task: Task, kind: Kind) -> int:
        bench = self.grid.bench
        return {"frame": task.minutes, "demould": bench.demould_minutes}.get(kind, 0)

    # --- why ----------------------------------------------------------------------------------

    def _why_moved(self, before: int, why: Reason) -> Reason:
        return (("not_done", self._iso(before)),) if before < 0 else why

    def _why_pour(self, cast: Cast, day: int) -> Reason:
        first = cast.pour[0] if cast.pour else 0
        printed = self.grid.day(cast.piece.pour_from)
        since: Reason = (("clay_waits",),)
        if printed >= 0:
            since = (("printed", self._iso(printed)),)
        return self._why(first, day, since, lambda on: self._busy_pouring(on, cast))

    def _busy_pouring(self, day: int, cast: Cast) -> Reason:
        if self.load.can_pour(day, cast):
            return ()
        full = self.load.pour_minutes(day, cast) is None
        return (("buckets_full" if full else "no_minutes", self._iso(day)),)

    def _why_out(self, task: Task, number: int, cast: Cast, day: int) -> Reason:
        poured = self.draft.pour.get((task.index, number))
        first = cast.demould_from if poured is None else poured + self.grid.bench.mould_days
        since = (("set_by", self._iso(first)),)
        return self._why(first, day, since, lambda on: self._busy_rack(on, day))

    def _busy_rack(self, day: int, out: int) -> Reason:
        if max(self.load.rack[day:out]) >= self.grid.bench.rack_places:
            return (("rack_full", self._iso(out)),)
        return () if self.load.can_demould(day) else (("no_minutes", self._iso(day)),)

    def _why_frame(self, task: Task, day: int) -> Reason:
        first, since = self._dry(task)
        said = self._why(first, day, since, lambda on: self._busy_framing(on, task))
        others = self.load.batches[day, task.job.batch] - 1
        if said == UNCHANGED and others > 0:
            return (("with_others", others),)
        return said

    def _dry(self, task: Task) -> tuple[int, Reason]:
        """The day by which all its casts are dry, and the reason that it gives."""
        first, last, number = 0, None, 0
        for place, cast in enumerate(task.casts):
            out = self.draft.demould.get((task.index, place), 0)
            if out + cast.dry >= first:
                first, last, number = out + cast.dry, cast, place
        if last is None or last.piece.is_dry:
            return 0, (("dry",),)
        since: Reason = (("dry_by", self._iso(first)),)
        if last.demould and not last.demould_pinned:
            out = self.draft.demould[task.index, number]
            held = self._why_out(task, number, last, out)
            if held[0][0] == "rack_full":
                since = held + since
        return first, since

    def _busy_framing(self, day: int, task: Task) -> Reason:
        if self.load.can_frame(day, task):
            return ()
        full = self.load.frame_minutes(day, task) > self.load.framing_left[day]
        return (("framing_full" if full else "no_minutes", self._iso(day)),)

    def _why(self, first: int, day: int, since: Reason, busy: Callable[[int], Reason]) -> Reason:
        """What holds a step that could be done from `first` on: its start, days off, or the last full day."""
        open_days = [on for on in range(max(first, 0), day) if self.grid.open[on]]
        if open_days:
            return busy(open_days[-1]) or UNCHANGED
        return since + self._closed(first, day)

    def _closed(self, first: int, day: int) -> Reason:
        closed = [on for on in range(max(first, 0), day) if not self.grid.open[on]]
        if not closed:
            return ()
        if len(closed) == 1:
            return (("closed_day", self._iso(closed[0])),)
        return (("closed", self._iso(closed[0]), self._iso(closed[-1])),)

    def _iso(self, day: int) -> str:
        return self.grid.date(day).isoformat()

    def _day(self, day: int) -> str:
        return units.day(self.grid.date(day), self.grid.today)


_KINDS_IN_ORDER: tuple[Kind, ...] = ("pour", "demould", "weigh", "frame", "ready", "hand_over")

_ORDER = {kind: place for place, kind in enumerate(_KINDS_IN_ORDER)}


def _load_of(grid: Grid, draft: Draft) -> Load:
    """The load of all jobs in this draft."""
    load = Load(grid)
    for task in grid.tasks:
        load.add_job(task, draft)
    return load
