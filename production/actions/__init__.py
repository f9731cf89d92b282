"""What people do at the bench: one function and one transaction each."""

from production.actions.casting import (
    clear_bench,
    demould,
    place_on_rack,
    pour,
    settle_after_leaving_off,
    spoil_piece,
)
from production.actions.framing import (
    FRAME_STEPS,
    make_ready,
    pack_up,
    reopen_frame,
    start_framing,
    tick_frame,
)
from production.actions.weighing import release_dry, strike_weighing, weigh

__all__ = [
    "FRAME_STEPS",
    "clear_bench",
    "demould",
    "make_ready",
    "pack_up",
    "place_on_rack",
    "pour",
    "release_dry",
    "reopen_frame",
    "settle_after_leaving_off",
    "spoil_piece",
    "start_framing",
    "strike_weighing",
    "tick_frame",
    "weigh",
]
