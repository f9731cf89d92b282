"""Why a step of the plan is on its day: codes with their days and numbers, and the words made of them. Pure.

A reason is a row of codes, each with its values: `(("dry_by", "2026-12-06"), ("closed", "2026-12-07", "2026-12-08"))`.
Days are in ISO 8601.
"""

from collections.abc import Sequence
from datetime import date

from studio import units

Reason = tuple[tuple[str | int, ...], ...]

PINNED: Reason = (("pinned",),)

UNCHANGED: Reason = (("unchanged",),)

_WORDS = {
    "before_framing": "weighed dry before it is framed",
    "buckets_full": "the buckets of {0} are full",
    "clay_waits": "its clay waits",
    "closed": "you do not work from {0} to {1}",
    "closed_day": "you do not work on {0}",
    "courier": "the courier comes on {0}",
    "cures": "the finish cures until {0}",
    "dry": "it is dry",
    "dry_by": "dry by {0} in nine cases of ten",
    "few_days": "its promise leaves few days",
    "framed": "framed",
    "framing_full": "{0} is full of framing",
    "fresh": "fresh from the mould",
    "half_way": "half-way",
    "likely": "as likely dry as not",
    "no_minutes": "{0} has no minutes left",
    "not_done": "not done on {0}",
    "not_weighed": "not weighed yet",
    "pinned": "pinned by you",
    "printed": "its print is taken on {0}",
    "rack_full": "the rack is full until {0}",
    "ready": "it is ready",
    "set_by": "it has set by {0}",
    "two_weighings": "two weighings a day apart say that it is dry",
    "typed": "{0}",  # of a plan made when reasons were kept as sentences
    "unchanged": "it stays where it was planned",
    "with_others": "framed together with {0} more of its finish and backing",
}

_CLOSED = ("closed", "closed_day")


def words(reason: Sequence[Sequence[str | int]], on: date) -> str:
    """A reason in words; a day carries its year where it lies in another one than the step's `on`."""
    said = ""
    for code, *values in reason:
        if said:
            said += "; " if code in _CLOSED else ", then "
        said += _WORDS[str(code)].format(*(_value(str(code), value, on) for value in values))
    return said


def _value(code: str, value: str | int, on: date) -> str:
    if code == "typed" or isinstance(value, int):
        return str(value)
    return units.day(date.fromisoformat(value), on)
