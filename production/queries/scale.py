"""What the page beside the scale shows: earlier weights, what to expect, which piece comes next."""

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from production import plaster
from production.queries.bench import PieceNow, cast_now
from studio.models import Unit
from studio.stages import Stage

if TYPE_CHECKING:
    from production.models import Cast


@dataclass(frozen=True, slots=True)
class Expected:
    """The range in which a weight is no surprise, and where it comes from."""

    low_g: float
    high_g: float
    words: str


def expected(now: PieceNow) -> Expected | None:
    """Between the dry weight of its mix and the last weight. One query before the first weighing."""
    cast = now.cast
    if cast is None:
        return None
    share = plaster.dry_share(cast.pour.consistency)
    if now.last is None:
        fresh_g = (cast.pour.plaster_g + cast.pour.water_g) / cast.pour.casts.count()
        return Expected(fresh_g * share, fresh_g, "its share of the mix, fresh to dry")
    low_g = now.weighings[0].mass_g * share
    return Expected(min(low_g, now.last.mass_g), now.last.mass_g, "dry by the mix, to last time")


def next_to_weigh(unit: Unit, cast: "Cast", now: datetime) -> "Cast | None":
    """The next piece along the rack that is to be weighed today. Constant queries."""
    damp = unit.casts.damp().on_the_job().exclude(pk=cast.pk).with_people()
    on_the_bench = damp.exclude(piece__job__stage__in=(Stage.FRAMING, Stage.READY))
    waiting = [other for other in on_the_bench if cast_now(other, now).is_to_weigh]
    here = _along(cast)
    return min(waiting, key=lambda other: (_along(other) < here, _along(other)), default=None)


def free_places(unit: Unit) -> list[int]:
    """Places of the rack where nothing lies, lowest first."""
    taken = set(unit.casts.on_the_rack().values_list("rack_place", flat=True))
    return [place for place in range(1, unit.rack_places + 1) if place not in taken]


def _along(cast: "Cast") -> tuple[int, int]:
    return cast.rack_place or 10_000, cast.pk
