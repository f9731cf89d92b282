"""The fewest late days of a bench, proven by another solver (HiGHS, through SciPy) on another formulation.

Day by day and job by job: how many alike casts are poured and come out on a day (whole numbers), on which day a
job is framed (yes or no), which batches are set up, how many buckets are stirred, and how full the rack is. Knows only
the facts. Pins are not modelled: the weeks that are proven have none.
"""

from collections import defaultdict
from datetime import timedelta
from math import ceil

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array

DAY = timedelta(days=1)


def fewest_late_days(jobs, bench, today, *, at_most, seconds=20.0):
    """The proven optimum, where a plan with `at_most` late days is known; None where the time ran out.

    Asks only for plans that lose no print.
    """
    alone = {job.key: _late_alone(job, bench, today) * job.weight for job in jobs}
    if sum(alone.values()) == at_most:
        return at_most  # each job by itself is as late
    return _Bench(jobs, bench, today, alone, at_most).solve(seconds)


def _late_alone(job, bench, today):
    return _late(job, _home(job, bench, _first_frame(job, bench, today)))


def _late(job, home):
    return max(0, (home - job.promised_on).days) if job.promised_on else 0


def _first_frame(job, bench, today):
    if job.framed_on or job.is_ready:
        return today
    dry_on = [today]
    for piece in job.pieces:
        if not piece.is_dry:
            out = piece.demoulded_on or _first_out(piece, bench, today)
            dry_on.append(out + ceil(piece.drying.late_days) * DAY)
    return _open_from(bench, max(dry_on))


def _first_out(piece, bench, today):
    poured = piece.poured_on or _open_from(bench, max(piece.pour_from, today))
    return _open_from(bench, max(poured + bench.mould_days * DAY, today))


def _open_from(bench, day):
    while not bench.is_open(day):
        day += DAY
    return day


def _home(job, bench, framed):
    ready = _open_from(bench, (job.framed_on or framed) + job.cure_days * DAY)
    while job.by_courier and not bench.courier_comes(ready):
        ready += DAY
    return ready


class _Bench:
    """The rows of the problem, gathered one by one."""

    def __init__(self, jobs, bench, today, alone, at_most):
        self.bench, self.today = bench, today
        self.cost, self.upper, self.rows = [], [], []
        self.framing, self.minutes = defaultdict(list), defaultdict(list)
        self.onto, self.off = defaultdict(list), defaultdict(list)
        self.moulds, self.slurry = defaultdict(list), defaultdict(list)
        self.setups = {}
        spare = at_most - sum(alone.values())
        horizon = max((job.promised_on or today) for job in jobs) + (at_most + 30) * DAY
        self.lying = 0
        for job in jobs:
            if not (job.framed_on or job.is_ready):
                self._job(job, alone[job.key] + spare, horizon)
        self._days()

    def solve(self, seconds):
        data = [
            (value, number, column)
            for number, (parts, _, _) in enumerate(self.rows)
            for column, value in parts
        ]
        values, row, column = zip(*data, strict=True)
        matrix = csr_array((values, (row, column)), shape=(len(self.rows), len(self.cost)))
        low, high = np.array([row[1] for row in self.rows]), np.array([row[2] for row in self.rows])
        found = milp(
            np.array(self.cost),
            integrality=np.ones(len(self.cost)),
            bounds=Bounds(0, np.array(self.upper)),
            constraints=LinearConstraint(matrix, low, high),
            options={"time_limit": seconds, "mip_rel_gap": 0.0, "presolve": False},
        )
        return None if found.status else round(found.fun)

    def _new(self, upper=1, cost=0):
        self.cost.append(cost)
        self.upper.append(upper)
        return len(self.cost) - 1

    def _row(self, parts, low=-np.inf, high=np.inf):
        self.rows.append((parts, low, high))

    def _job(self, job, most_late, horizon):
        bench = self.bench
        framed = {}
        day = _first_frame(job, bench, self.today)
        while day <= horizon:
            late = _late(job, _home(job, bench, day)) * job.weight
            if late > most_late:
                break
            if bench.is_open(day):
                framed[day] = self._new(cost=late)
                self.framing[day, job.finish, job.backing].append((framed[day], job.frame_minutes))
            day += DAY
        self._row([(column, 1) for column in framed.values()], 1, 1)
        lying = sum(bool(piece.demoulded_on and piece.on_rack) for piece in job.pieces)
        self.lying += lying
        alike = defaultdict(list)
        for piece in job.pieces:
            if not (piece.demoulded_on or piece.is_dry):
                alike[
                    ceil(piece.drying.late_days), piece.pour_from, piece.pour_by, piece.poured_on
                ].append(piece)
        for (dry_days, *_), pieces in alike.items():
            self._casts(pieces, dry_days, framed)
        for day, column in framed.items():
            casts = sum(len(pieces) for pieces in alike.values())
            self.off[day].append((column, -(lying + casts)))

    def _casts(self, pieces, dry_days, framed):
        """Out of the mould once set, as many as there are; framed once all have dried."""
        bench, first, count = self.bench, pieces[0], len(pieces)
        poured = self._pours(pieces) if not first.poured_on else None
        out, day = {}, _first_out(first, bench, self.today)
        while day <= max(framed) - dry_days * DAY:
            if bench.is_open(day):
                out[day] = self._new(count)
                self.minutes[day].append((out[day], bench.demould_minutes))
                self.onto[day].append((out[day], 1))
            day += DAY
        self._row([(column, 1) for column in out.values()], count, count)
        for day in out if poured is not None else ():
            have = [(c, 1) for on, c in out.items() if on <= day]
            allow = [(c, -1) for on, c in poured if on + bench.mould_days * DAY <= day]
            self._row(have + allow, high=0)
        for day in framed:
            done = [(c, count) for on, c in framed.items() if on <= day]
            dry = [(c, -1) for on, c in out.items() if on + dry_days * DAY <= day]
            self._row(done + dry, high=0)

    def _pours(self, pieces):
        poured = []
        for piece in pieces:
            own, day = [], max(piece.pour_from, self.today)
            while day <= piece.pour_by:
                if self.bench.is_open(day):
                    own.append((day, self._new()))
                    self.moulds[day].append((own[-1][1], 1))
                    self.slurry[day].append((own[-1][1], piece.volume_ml))
                day += DAY
            self._row([(column, 1) for _, column in own], 1, 1)
            poured += own
        return poured

    def _days(self):
        bench = self.bench
        framing = defaultdict(list)
        for (day, *_), parts in self.framing.items():
            setup = self._new()
            room = min(bench.framing_minutes_per_day, bench.minutes(day)) - bench.setup_minutes
            self._row([*parts, (setup, -max(room, 0))], high=0)
            framing[day] += [*parts, (setup, bench.setup_minutes)]
        for day, parts in framing.items():
            self._row(parts, high=bench.framing_minutes_per_day)
            self.minutes[day] += parts
        for day, parts in self.moulds.items():
            buckets = self._new(bench.pours_per_day)
            self._row([*parts, (buckets, -bench.moulds_per_pour)], high=0)
            self._row([*self.slurry[day], (buckets, -bench.bucket_ml)], high=0)
            self.minutes[day].append((buckets, bench.pour_minutes))
        for day, parts in self.minutes.items():
            self._row(parts, high=bench.minutes(day))
        self._rack()

    def _rack(self):
        """How many lie there in the evening is what lay there, and what came, less what went."""
        places = self.bench.rack_places
        before = None
        for day in sorted({*self.onto, *self.off}):
            lies = self._new(max(places, self.lying))
            if self.onto[day]:
                self.upper[lies] = places
            parts = [*self.onto[day], *self.off[day], (lies, -1)]
            if before is None:
                self._row(parts, -self.lying, -self.lying)
            else:
                self._row([*parts, (before, 1)], 0, 0)
            before = lies
