"""The strip that shows how far a job is, for the studio and for its family. Pure."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Literal


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the strip; `day` (or moment) when it was last reached."""

    label: str
    state: Literal["done", "now", "ahead"]
    day: date | None


def stage_strip(
    stage: str, labels: Mapping[str, str], reached: Mapping[str, date], *, ends: bool = False
) -> tuple[Step, ...]:
    """Return the steps of a job at `stage`; `labels` are the stages of its way, in order, with their words.

    `reached`: when it last came to each stage. `ends`: the last stage counts as done once it is reached.
    At a stage that is not on the way (called off) nothing is under way: only how far it had come.
    """
    way = list(labels)
    if stage not in labels:
        return tuple(Step(labels[each], "done", reached[each]) for each in way if each in reached)
    at = len(way) if ends and stage == way[-1] else way.index(stage)
    return tuple(
        Step(
            label,
            "done" if place < at else "now" if place == at else "ahead",
            reached.get(each) if place <= at else None,
        )
        for place, (each, label) in enumerate(labels.items())
    )
