"""Finds what a plan breaks, from the facts and the days alone, day by day as a person with a calendar would.

Knows nothing of how plans are made. `breaches` answers with sentences; an empty list is a plan that can be done.
"""

from collections import defaultdict
from datetime import timedelta
from math import ceil

DAY = timedelta(days=1)


def breaches(jobs, bench, plan, today):
    planned = {job.key: job for job in plan.jobs}
    if sorted(job.key for job in jobs) != sorted(planned):
        return ["not the same jobs"]
    found = []
    for job in jobs:
        found += _calendar(job, planned[job.key], bench, today)
        found += _order(job, planned[job.key], bench, today)
    found += _days(jobs, bench, planned)
    return found + list(_rack(jobs, bench, planned, today))


def late_days(jobs, plan):
    """The sum of weighted calendar days after the promises, from the days of hand-over."""
    planned = {job.key: job for job in plan.jobs}
    return sum(
        max(0, (planned[job.key].home_on - job.promised_on).days) * job.weight
        for job in jobs
        if job.promised_on
    )


def _calendar(job, planned, bench, today):
    """None before today, none on a day off, pins as they were."""
    pinned = {(pin.kind, pin.piece): pin.on for pin in job.pins}
    for step in planned.steps:
        own_pin = pinned.get((step.kind, step.piece), pinned.get((step.kind, "")))
        if step.on < today:
            yield f"{job.key} {step.kind} before today"
        if not bench.is_open(step.on) and own_pin is None:
            yield f"{job.key} {step.kind} on a day off"
        if own_pin and own_pin != step.on:
            yield f"{job.key} {step.kind} is not where it is pinned"
        if (
            job.by_courier
            and step.kind == "hand_over"
            and not (own_pin or bench.courier_comes(step.on))
        ):
            yield f"{job.key} goes home without a courier"


def _order(job, planned, bench, today):
    """Every step once and none before its predecessor."""
    on = _days_of(planned)
    if set(on) != _wanted(job):
        return [f"{job.key} has the steps {sorted(on)}"]
    if job.is_ready:
        return []
    found = []
    framed = job.framed_on or on["frame", ""]
    if job.framed_on is None:
        for piece in job.pieces:
            found += _piece(job, piece, planned, on, bench)
    if on["ready", ""] < framed + job.cure_days * DAY:
        found.append(f"{job.key} is ready before its finish has cured")
    if not on["ready", ""] <= on["hand_over", ""] == planned.home_on:
        found.append(f"{job.key} goes home before it is ready")
    return found


def _days_of(planned):
    return {(step.kind, step.piece): step.on for step in planned.steps if step.kind != "weigh"}


def _wanted(job):
    if job.is_ready:
        return {("hand_over", "")}
    wanted = {("ready", ""), ("hand_over", "")}
    if job.framed_on:
        return wanted
    for piece in job.pieces:
        is_out = piece.demoulded_on or piece.is_dry
        wanted |= set() if is_out else {("demould", piece.key)}
        wanted |= set() if is_out or piece.poured_on else {("pour", piece.key)}
    return wanted | {("frame", "")}


def _piece(job, piece, planned, on, bench):
    framed = on["frame", ""]
    poured = on.get(("pour", piece.key)) or piece.poured_on
    out = on.get(("demould", piece.key))
    if ("pour", piece.key) in on and poured < piece.pour_from:
        yield f"{job.key} poured before its print"
    if ("pour", piece.key) in on and poured > piece.pour_by and not planned.warnings:
        yield f"{job.key} poured too late without a word"
    if out and out < poured + bench.mould_days * DAY:
        yield f"{job.key} out before it has set"
    if out and framed < out:
        yield f"{job.key} framed before it is out"
    dry_on = (out or piece.demoulded_on or framed) + ceil(piece.drying.late_days) * DAY
    pinned = any(pin.kind == "frame" for pin in job.pins)
    if not piece.is_dry and not pinned and framed < dry_on:
        yield f"{job.key} framed before it is dry at 90 %"


def _days(jobs, bench, planned):
    """Minutes, buckets and framing of every day. What is pinned may overfill its day, nothing beside it."""
    every, pinned = defaultdict(list), defaultdict(list)
    for job in jobs:
        for step in planned[job.key].steps:
            every[step.on].append((job, step))
            if step.pinned:
                pinned[step.on].append((job, step))
    for on, steps in sorted(every.items()):
        limits = (bench.pours_per_day, bench.framing_minutes_per_day, bench.minutes(on))
        words = ("pourings", "minutes of framing", "minutes")
        for taken, by_pins, limit, word in zip(
            _taken(steps, bench), _taken(pinned[on], bench), limits, words, strict=True
        ):
            if taken > max(limit, by_pins):
                yield f"{on}: {taken} {word} of {limit}"


def _taken(steps, bench):
    """Pourings, minutes of framing with set-ups, and all minutes that these steps take."""
    poured = [
        piece
        for job, step in steps
        if step.kind == "pour"
        for piece in job.pieces
        if piece.key == step.piece
    ]
    framed = [job for job, step in steps if step.kind == "frame"]
    slurry_ml = sum(piece.volume_ml for piece in poured)
    pours = max(ceil(len(poured) / bench.moulds_per_pour), ceil(slurry_ml / bench.bucket_ml))
    batches = {(job.finish, job.backing) for job in framed}
    framing = sum(job.frame_minutes for job in framed) + bench.setup_minutes * len(batches)
    out = sum(step.kind == "demould" for _, step in steps)
    minutes = framing + out * bench.demould_minutes + pours * bench.pour_minutes
    return pours, framing, minutes


def _rack(jobs, bench, planned, today):
    """Never more casts on the rack than places."""
    lying = defaultdict(int)
    for job in jobs:
        on = _days_of(planned[job.key])
        if ("frame", "") not in on:
            continue
        for piece in job.pieces:
            out = on.get(("demould", piece.key))
            if out is None and not (piece.on_rack and piece.demoulded_on):
                continue
            day = out or today
            while day < on["frame", ""]:
                lying[day] += 1
                day += DAY
    for day, casts in lying.items():
        if casts > bench.rack_places:
            yield f"{day}: {casts} casts on {bench.rack_places} places"
