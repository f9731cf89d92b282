"""The strip that shows the progress of a job to the studio and to its family. Pure."""

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
    """Return the steps of a job at `stage`; `labels` are the labels of the stages in order.

    `reached` holds the day on which it last came to each stage. With `ends`, the last stage counts as done once
    reached. For a stage that is not in `labels` (called off), only the steps that it reached are returned, as done.
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
