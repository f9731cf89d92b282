"""Benches in the middle of their work, made from a seed: 5 to 60 open jobs at every stage."""

from dataclasses import replace
from datetime import date, timedelta
from random import Random

from production.planning.solver.model import Bench, Drying, Job, Piece

TODAY = date(2026, 11, 30)  # a Monday
DAY = timedelta(days=1)


def week(seed, jobs):
    """(jobs, bench): so many jobs on a bench that is busy up to its limits, some late whatever is done."""
    rng = Random(seed)  # noqa: S311 - invented data
    bench = Bench(
        minutes_by_weekday=(
            *(rng.choice((240, 270, 300) if jobs > 15 else (180, 240, 300)) for _ in range(5)),
            rng.choice((0, 120)),
            0,
        ),
        days_off=frozenset(TODAY + rng.randrange(40) * DAY for _ in range(2)),
        moulds_per_pour=rng.choice((3, 4)),
        pours_per_day=3,
        mould_days=rng.choice((0, 0, 1)),
        rack_places=rng.randint(4, 8) + rng.randint(2, 3) * jobs // 2,
        framing_minutes_per_day=150,
        courier_weekdays=frozenset({1, 4}),
    )
    # So many came each day, up to more than the framing hours of a week hold; the last of them some days ago.
    span = max(
        3, round(jobs / rng.uniform(0.8, 1.8 if jobs <= 15 else 1.35 if jobs <= 30 else 1.25))
    )
    oldest = rng.randint(min(2, 13 - span), 13) if span < 13 else 13
    made = tuple(_job(rng, f"J{n}", oldest - span, oldest) for n in range(jobs))
    return _on_places(made, bench.rack_places), bench


def _on_places(jobs, places):
    """No more casts on the rack than it has places: the others lie elsewhere."""
    left = places
    placed = []
    for job in jobs:
        pieces = []
        for piece in job.pieces:
            on_rack = piece.demoulded_on is not None and left > 0
            left -= on_rack
            pieces.append(replace(piece, on_rack=on_rack or piece.demoulded_on is None))
        placed.append(replace(job, pieces=tuple(pieces)))
    return tuple(placed)


def _job(rng, key, youngest, oldest):
    likely = rng.uniform(5, 9)
    drying = Drying(likely * 0.7, likely, likely * 1.4)
    # How many days ago its print was taken, or, below nought, will be.
    age = rng.randint(youngest, oldest)
    pieces = tuple(_piece(rng, str(n), drying, age) for n in range(rng.choice((1, 2, 2, 3, 4))))
    home = 17 - age + rng.choice((-4, -2, -1, 0, 0, 1, 2, 4))
    return Job(
        key,
        pieces,
        promised_on=TODAY + max(home, -3) * DAY,
        frame_minutes=rng.choice((40, 50, 60, 70)),
        finish=rng.choice(("oiled oak", "white oak")),
        backing=rng.choice(("linen", "felt")),
        cure_days=rng.choice((0, 1, 1, 2)),
        by_courier=rng.random() < 0.25,
        weight=rng.choice((1, 1, 1, 2)),
    )


def _piece(rng, key, drying, age):
    volume_ml = rng.uniform(150, 450)
    if age <= 1:
        taken = TODAY - age * DAY
        # The clay lasts so many days, one of which at least is a working day in any week.
        lasts = rng.choice((4, 5, 6))
        return Piece(key, drying, taken, taken + lasts * DAY, volume_ml=volume_ml)
    if age == 2:
        return Piece(key, drying, poured_on=TODAY - DAY, volume_ml=volume_ml)
    is_dry = age > 2 + drying.likely_days
    return Piece(key, drying, demoulded_on=TODAY - (age - 2) * DAY, is_dry=is_dry)
