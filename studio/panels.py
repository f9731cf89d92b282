"""What the apps show on pages that belong to all of them: Today, a job, a family.

Each app registers its part in `ready()`; the core draws them in order and imports none of them.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, Literal, TypeVar

from studio.models import Family, Job, Role, Unit


@dataclass(frozen=True, slots=True)
class TodayItem:
    """One line on Today: a thing to touch now, or money to ask for."""

    group: Literal["sittings", "bench", "families", "owed"]
    title: str
    url: str
    who: str = ""
    reference: str = ""
    at: datetime | None = None
    due_on: date | None = None
    why_late: str = ""
    amount_minor: int | None = None


@dataclass(frozen=True, slots=True)
class Panel:
    """A section of a page: a template in the app's folder, and what it takes."""

    title: str
    template: str
    context: dict[str, Any] = field(default_factory=dict)
    anchor: str = ""


TodaySource = Callable[[Unit, Role, datetime], Iterable[TodayItem]]
JobPanel = Callable[[Job, Role, datetime], Panel | None]
FamilyPanel = Callable[[Family, Role, datetime], Panel | None]

F = TypeVar("F")

_today: list[tuple[int, TodaySource]] = []
_job: list[tuple[int, JobPanel]] = []
_family: list[tuple[int, FamilyPanel]] = []


def today_source(order: int) -> Callable[[TodaySource], TodaySource]:
    """Register a function that yields what a unit has to touch now; low `order` first."""

    def register(source: TodaySource) -> TodaySource:
        _today.append((order, source))
        return source

    return register


def job_panel(order: int) -> Callable[[JobPanel], JobPanel]:
    """Register a section of the job page; None leaves it out."""

    def register(panel: JobPanel) -> JobPanel:
        _job.append((order, panel))
        return panel

    return register


def family_panel(order: int) -> Callable[[FamilyPanel], FamilyPanel]:
    """Register a section of the family page; None leaves it out."""

    def register(panel: FamilyPanel) -> FamilyPanel:
        _family.append((order, panel))
        return panel

    return register


def today(unit: Unit, role: Role, now: datetime) -> list[TodayItem]:
    return [item for _, source in _in_order(_today) for item in source(unit, role, now)]


def of_job(job: Job, role: Role, now: datetime) -> list[Panel]:
    return [shown for _, panel in _in_order(_job) if (shown := panel(job, role, now))]


def of_family(family: Family, role: Role, now: datetime) -> list[Panel]:
    return [shown for _, panel in _in_order(_family) if (shown := panel(family, role, now))]


def _in_order(kept: list[tuple[int, F]]) -> list[tuple[int, F]]:
    return sorted(kept, key=lambda entry: entry[0])
