"""The state of a job's pieces: in the clay, in the mould, damp or dry, with their weighings."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from django.db.models import Exists, OuterRef
from django.utils import timezone

from production.casts.models import Cast, Weighing
from production.drying.by_weight import Dryness, Weighed
from production.drying.judgement import judge_dryness
from studio import units
from studio.accounts.models import Unit
from studio.jobs.models import Job, Piece
from studio.stages import Stage

if TYPE_CHECKING:
    from studio.jobs.querysets import PieceQuerySet


# A weight taken so soon after demoulding is the fresh weight; later, water is missing from it.
FRESH_WITHIN = timedelta(hours=3)


@dataclass(frozen=True, slots=True)
class PastWeighing:
    """One weighing, and the loss in grams a day since the valid weighing before it."""

    row: Weighing
    at: datetime
    loss_g_per_day: float | None


def pieces_to_pour(unit: Unit) -> "PieceQuerySet":
    """Return pieces whose print is in the clay and has no whole cast, the oldest print first.

    Pieces of a job that waits for another piece to be retaken are included, because clay dries.
    """
    return (
        _without_cast(Piece.objects.on_the_job())
        .filter(
            job__unit=unit,
            job__stage__in=(Stage.BOOKED, Stage.CLAY_REST),
            prints__live=True,
            prints__outcome="taken",
            prints__sitting__state="done",
        )
        .select_related("job__family", "child", "mould")
        .prefetch_related("prints__sitting")
        .order_by("prints__taken_at", "pk")
    )


def pieces_without_cast(job: Job) -> list[Piece]:
    """Return the job's pieces without a whole cast. One query."""
    return list(_without_cast(job.pieces.on_the_job().select_related("child")))


def all_poured(job: Job) -> bool:
    """Whether every piece of the job has a whole cast. One query."""
    return not _without_cast(job.pieces.on_the_job()).exists()


def pieces_in_the_mould(job: Job) -> list[Piece]:
    """Return the job's pieces whose cast is not demoulded. One query."""
    return _with_cast(job, demoulded_at=None)


def undried_pieces(job: Job) -> list[Piece]:
    """Return the job's pieces whose cast is not dry. One query."""
    return _with_cast(job, dry_at=None)


def judge_cast(cast: Cast, weighings: list[Weighed], scale_g: float) -> Dryness:
    """Judge dryness by the mix, by constant mass and by the curve of these weighings. `scale_g`: error of the scale."""
    return judge_dryness(
        weighings,
        demoulded_at=cast.demoulded_at,
        fresh_g=fresh_g(cast, weighings),
        consistency=cast.pour.consistency,
        purity=purity_of(cast),
        scale_g=scale_g,
    )


def purity_of(cast: Cast) -> float:
    """Share of plaster in the powder of the cast, 0.5 to 1."""
    return cast.pour.plaster.purity if cast.pour.plaster else 1.0


def valid_weighings(cast: Cast) -> list[Weighed]:
    """Return the weighings that were not struck out, in local time, oldest first."""
    zone = timezone.get_current_timezone()  # asked for once: hundreds of weighings make a page
    return [
        Weighed(row.at.astimezone(zone), row.mass_g)
        for row in cast.weighings.all()
        if row.struck_at is None
    ]


def last_weighing(cast: Cast) -> Weighed | None:
    """Return the last valid weighing in local time, as stored on the cast. No query."""
    if cast.last_g is None or cast.last_weighed_at is None:
        return None
    return Weighed(timezone.localtime(cast.last_weighed_at), cast.last_g)


def weighing_history(cast: Cast) -> list[PastWeighing]:
    """Return all weighings, oldest first, struck-out ones included."""
    found: list[PastWeighing] = []
    before: PastWeighing | None = None
    for row in cast.weighings.all():
        at = timezone.localtime(row.at)
        loss = None
        if before and row.struck_at is None and at > before.at:
            days = (at - before.at).total_seconds() / 86_400
            loss = (before.row.mass_g - row.mass_g) / days
        past = PastWeighing(row, at, loss)
        found.append(past)
        before = before if row.struck_at else past
    return found


def fresh_g(cast: Cast, weighings: list[Weighed]) -> float | None:
    """Weight at demoulding in grams; None unless weighed within three hours of it."""
    if not weighings or cast.demoulded_at is None:
        return None
    first = weighings[0]
    return first.mass_g if first.at - cast.demoulded_at <= FRESH_WITHIN else None


def day_words(at: datetime) -> str:
    """Format the local day of a time: "Tue 1 Dec"."""
    return units.day(timezone.localdate(at))


def _without_cast(pieces: "PieceQuerySet") -> "PieceQuerySet":
    return pieces.filter(~Exists(Cast.objects.whole().filter(piece=OuterRef("pk"))))


def _with_cast(job: Job, **facts: object) -> list[Piece]:
    whole = Cast.objects.whole().filter(piece=OuterRef("pk"), **facts)
    return list(job.pieces.on_the_job().filter(Exists(whole)).select_related("child"))
