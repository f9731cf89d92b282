"""Reads of pours, casts, the rack, weighings and frames."""

from production.queries.bench import (
    Bench,
    FrameNow,
    PieceNow,
    bench,
    cast_now,
    frame_now,
    load,
    pieces_now,
    wants_photo,
)
from production.queries.mixes import mix_of, predicted_mix, proposed_pour
from production.queries.pieces import (
    all_poured,
    damp_pieces,
    days_to_dry,
    dryness,
    pieces_in_the_mould,
    pieces_to_pour,
    pieces_without_cast,
    readings,
    said_day,
    weighed,
)
from production.queries.rows import CastQuerySet, PourQuerySet, WeighingQuerySet
from production.queries.scale import expected, free_places, next_to_weigh
from production.queries.weeks import facts, to_begin_today, week_plan

__all__ = [
    "Bench",
    "CastQuerySet",
    "FrameNow",
    "PieceNow",
    "PourQuerySet",
    "WeighingQuerySet",
    "all_poured",
    "bench",
    "cast_now",
    "damp_pieces",
    "days_to_dry",
    "dryness",
    "expected",
    "facts",
    "frame_now",
    "free_places",
    "load",
    "mix_of",
    "next_to_weigh",
    "pieces_in_the_mould",
    "pieces_now",
    "pieces_to_pour",
    "pieces_without_cast",
    "predicted_mix",
    "proposed_pour",
    "readings",
    "said_day",
    "to_begin_today",
    "wants_photo",
    "week_plan",
    "weighed",
]
