"""Reads of pours, casts, the rack, weighings and frames."""

from production.queries.mixes import mix_of, predicted_mix
from production.queries.pieces import (
    all_poured,
    damp_pieces,
    days_to_dry,
    dryness,
    pieces_in_the_mould,
    pieces_to_pour,
    pieces_without_cast,
    said_day,
    weighed,
)
from production.queries.rows import CastQuerySet, PourQuerySet, WeighingQuerySet

__all__ = [
    "CastQuerySet",
    "PourQuerySet",
    "WeighingQuerySet",
    "all_poured",
    "damp_pieces",
    "days_to_dry",
    "dryness",
    "mix_of",
    "pieces_in_the_mould",
    "pieces_to_pour",
    "pieces_without_cast",
    "predicted_mix",
    "said_day",
    "weighed",
]
