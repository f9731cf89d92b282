"""Reading of the demo's files."""

import csv
import tomllib
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from studio.stages import Stage

FOLDER = Path(__file__).parent

Paid = Literal["", "deposit", "half", "all"]
# Days from today, or: "pour", so that its clay is to be poured today; "over", the last slot that is
# over; "eve", the day before.
NearDay = Literal["pour", "over", "eve"]
SittingDay = int | NearDay


@dataclass(frozen=True, slots=True)
class JobRow:
    """One job of jobs.csv with its story, if it has one."""

    job: str
    family: str
    pieces: tuple[tuple[str, str], ...]
    """Child and limb: ("Ada", "left_hand")."""
    sitting: SittingDay
    reaches: Stage
    drying: str
    backing: str
    finish: str
    extra: str
    paid: Paid
    followed: bool
    """The family has a private link, and the sitting was photographed."""
    story: Mapping[str, Any]


def table(name: str) -> list[dict[str, str]]:
    with (FOLDER / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def document(name: str) -> dict[str, Any]:
    return tomllib.loads((FOLDER / f"{name}.toml").read_text(encoding="utf-8"))


def jobs() -> list[JobRow]:
    """Read jobs.csv with the stories. Raises ValueError for a story without a job."""
    stories = document("stories")
    found = [_job(row, stories.pop(row["job"], {})) for row in table("jobs")]
    if stories:
        raise ValueError(f"No such job: {', '.join(stories)}")
    return found


def courses() -> dict[str, list[tuple[int, float]]]:
    """Read the courses of drying: days after demoulding, and the share of free water left (0 to 1)."""
    found = defaultdict(list)
    for row in table("weighings"):
        found[row["course"]].append((int(row["day"]), float(row["water_left_percent"]) / 100))
    return dict(found)


def pence(pounds: str) -> int:
    """Convert pounds to pence: "13.50" to 1350."""
    whole, part = pounds.split(".")
    return int(whole) * 100 + int(part)


def steps(text: str) -> list[tuple[int, int]]:
    """Parse bands: "5=0.00;20=9.00" to pairs (up to, pence)."""
    pairs = (step.split("=") for step in text.split(";") if step)
    return [(int(up_to), pence(pounds)) for up_to, pounds in pairs]


def _job(row: dict[str, str], story: Mapping[str, Any]) -> JobRow:
    words = [piece.strip().split(" ", 1) for piece in row["pieces"].split(";")]
    near: dict[str, NearDay] = {"pour": "pour", "over": "over", "eve": "eve"}
    paid: dict[str, Paid] = {"": "", "deposit": "deposit", "half": "half", "all": "all"}
    return JobRow(
        job=row["job"],
        family=row["family"],
        pieces=tuple((child, limb.replace(" ", "_")) for child, limb in words),
        sitting=near.get(row["sitting"]) or int(row["sitting"]),
        reaches=Stage(row["reaches"]),
        drying=row["drying"],
        backing=row["backing"],
        finish=row["finish"],
        extra=row["extra"],
        paid=paid[row["paid"]],
        followed=row["link"] == "yes",
        story=story,
    )
