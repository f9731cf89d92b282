"""Reads of pours, casts, the rack and weighings."""

from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Self

from django.db import models
from django.db.models import Exists, OuterRef
from django.utils import timezone

from production import drying
from studio import units
from studio.models import Job, Piece, Unit
from studio.stages import CLOSED, Stage

if TYPE_CHECKING:
    from production.models import Cast, Pour, Weighing  # noqa: F401
    from studio.queries import PieceQuerySet

# A weight taken so soon after demoulding is the fresh weight; later, water is missing from it.
FRESH_WITHIN = timedelta(hours=3)


class PourQuerySet(models.QuerySet["Pour"]):
    def newest_first(self) -> Self:
        return self.order_by("-poured_at", "-pk")


class CastQuerySet(models.QuerySet["Cast"]):
    def whole(self) -> Self:
        """Casts that are not spoiled."""
        return self.filter(spoiled_at=None)

    def on_the_job(self) -> Self:
        """Casts of pieces that are still part of an order in hand."""
        return self.filter(piece__left_off_at=None).exclude(piece__job__stage__in=CLOSED)

    def in_the_mould(self) -> Self:
        return self.whole().filter(demoulded_at=None)

    def damp(self) -> Self:
        return self.whole().filter(demoulded_at__isnull=False, dry_at=None)

    def on_the_rack(self) -> Self:
        return self.whole().filter(rack_place__isnull=False).order_by("rack_place")


class WeighingQuerySet(models.QuerySet["Weighing"]):
    def oldest_first(self) -> Self:
        return self.order_by("at", "pk")


def pieces_to_pour(unit: Unit) -> "PieceQuerySet":
    """Pieces whose print rests in the clay, whole and not poured.

    One of a job that waits for a new sitting of another piece is among them: clay does not wait.
    """
    return (
        _without_cast(Piece.objects.on_the_job())
        .filter(
            job__unit=unit,
            job__stage__in=(Stage.BOOKED, Stage.CLAY_REST),
            impressions__live=True,
            impressions__outcome="taken",
            impressions__sitting__state="done",
        )
        .select_related("job__family", "child")
        .order_by("impressions__taken_at", "pk")
    )


def pieces_without_cast(job: Job) -> list[Piece]:
    return list(_without_cast(job.pieces.on_the_job().select_related("child")))


def all_poured(job: Job) -> bool:
    return not _without_cast(job.pieces.on_the_job()).exists()


def pieces_in_the_mould(job: Job) -> list[Piece]:
    return _with_cast(job, demoulded_at=None)


def damp_pieces(job: Job) -> list[Piece]:
    return _with_cast(job, dry_at=None)


def dryness(cast: "Cast") -> drying.Dryness:
    """One query, none where weighings and pour are loaded."""
    weighings = weighed(cast)
    return drying.judge(
        weighings, fresh_g=_fresh_g(cast, weighings), consistency=cast.pour.consistency
    )


def weighed(cast: "Cast") -> list[drying.Weighed]:
    """The cast's weighings in local time, oldest first."""
    return [drying.Weighed(timezone.localtime(row.at), row.mass_g) for row in cast.weighings.all()]


def said_day(at: datetime) -> str:
    return units.day(timezone.localtime(at).date())


def _fresh_g(cast: "Cast", weighings: list[drying.Weighed]) -> float | None:
    if not weighings or cast.demoulded_at is None:
        return None
    first = weighings[0]
    return first.mass_g if first.at - cast.demoulded_at <= FRESH_WITHIN else None


def _without_cast(pieces: "PieceQuerySet") -> "PieceQuerySet":
    from production.models import Cast  # noqa: PLC0415 - models import this module

    return pieces.filter(~Exists(Cast.objects.whole().filter(piece=OuterRef("pk"))))


def _with_cast(job: Job, **facts: object) -> list[Piece]:
    from production.models import Cast  # noqa: PLC0415 - models import this module

    whole = Cast.objects.whole().filter(piece=OuterRef("pk"), **facts)
    return list(job.pieces.on_the_job().filter(Exists(whole)).select_related("child"))
