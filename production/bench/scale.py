"""What the page beside the scale shows: earlier weights, what to expect, which piece comes next."""

from dataclasses import dataclass
from datetime import datetime

from production import plaster
from production.bench.jobs import begun_jobs
from production.bench.piece_now import PieceNow
from production.casts.forecasts import Rack
from production.casts.models import Cast
from production.casts.pieces import purity_of
from production.drying.warnings import room_warnings, slab_area_m2, weighing_warnings
from studio import units
from studio.accounts.models import Unit


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
    share = plaster.dry_share(cast.pour.consistency, purity_of(cast))
    if now.last is None:
        fresh_g = (cast.pour.plaster_g + cast.pour.water_g) / cast.pour.casts.count()
        return Expected(fresh_g * share, fresh_g, "its share of the mix, fresh to dry")
    low_g = now.weighings[0].mass_g * share
    return Expected(
        min(low_g, now.last.mass_g), now.last.mass_g, "from dry, by its mix, to the last weight"
    )


def warnings_of(now: PieceNow, rack: Rack) -> list[str]:
    """What is wrong with the piece's last weighing or with the room it lies in. Two queries."""
    if now.state != "damp":
        return []
    tools, room = rack.workshop, rack.room.room
    area_m2 = slab_area_m2(now.mix.volume_ml, tools.depth_mm)
    weighings = weighing_warnings(now.weighings, room=room, area_m2=area_m2, scale_g=tools.scale_g)
    forecast = now.forecast
    overdue = (
        [f"It was to be dry by {units.day(forecast.late_on)}: weigh it, and look at its place."]
        if forecast and now.today > forecast.late_on
        else []
    )
    return [*weighings, *overdue, *room_warnings(room)]


def next_to_weigh(unit: Unit, cast: Cast, now: datetime) -> Cast | None:
    """Return the next cast along the drying rack that is to be weighed today. Ten queries."""
    waiting = [
        piece.cast
        for job in begun_jobs(unit, now)
        for piece in job.on_the_rack
        if piece.cast and piece.cast.pk != cast.pk and piece.is_to_weigh
    ]
    here = _along(cast)
    return min(waiting, key=lambda other: (_along(other) < here, _along(other)), default=None)


def free_places(unit: Unit) -> list[int]:
    """Places of the rack where nothing lies, lowest first."""
    taken = set(unit.casts.on_the_rack().values_list("rack_place", flat=True))
    return [place for place in range(1, unit.rack_places + 1) if place not in taken]


def _along(cast: Cast) -> tuple[int, int]:
    return cast.rack_place or 10_000, cast.pk
