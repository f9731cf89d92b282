"""Jobs as a list names them: reference, family and first names, in one query for any number."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from typing import TYPE_CHECKING, Any

from django.urls import reverse

from studio.stages import Stage
from studio.units import join_names

if TYPE_CHECKING:
    from django.db.models import QuerySet

    from studio.kept import Row
    from studio.models import Job
    from studio.queries import JobQuerySet


@dataclass(frozen=True, slots=True)
class Head:
    """One job by its names."""

    reference: str
    family: str
    first_names: str
    stage: str
    promised_on: date | None

    @property
    def url(self) -> str:
        return reverse("studio:job", args=[self.reference])

    @property
    def stage_words(self) -> str:
        return Stage(self.stage).label


def heads(jobs: "JobQuerySet") -> "QuerySet[Job, Row]":
    """The rows of a `@question`, of which `read_heads` makes heads in the order of the jobs."""
    return jobs.order_by(*jobs.query.order_by, "pk", "pieces__pk").values_list(
        *("pk", "reference", "family__name", "stage", "promised_on"),
        *("pieces__left_off_at", "pieces__child__first_name"),
    )


def read_heads(rows: Iterable[list[Any]]) -> list[Head]:
    found = []
    for _, lot in groupby(rows, key=lambda row: row[0]):
        pieces = list(lot)
        _, reference, family, stage, promised_on, *_ = pieces[0]
        names = join_names(name for *_, left_off_at, name in pieces if name and not left_off_at)
        found.append(Head(reference, family, names, stage, promised_on))
    return found
