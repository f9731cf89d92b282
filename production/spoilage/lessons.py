"""Spoilage statistics: number and cost of spoiled casts, and rates by limb, age, plaster and batch."""

from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from bookings.sittings import ages
from production.casts import pieces
from production.casts.models import Cast
from production.spoilage import rates as spoilage_rates
from production.spoilage.models import SpoilReason
from production.stock.models import StockMove
from studio.accounts.models import Unit

# Older casts say little of how the bench works today.
LOOKS_BACK = timedelta(days=730)

MOST_SHOWN = 50


@dataclass(frozen=True, slots=True)
class Group:
    """Spoilage rates by one criterion, e.g. "By limb"."""

    title: str
    anchor: str
    rates: list[spoilage_rates.Rate]

    @property
    def rows(self) -> list[tuple[spoilage_rates.Rate, str]]:
        return [(rate, spoilage_rates.rate_sentence(rate)) for rate in self.rates]


@dataclass(frozen=True, slots=True)
class SpoilageStatistics:
    """Casts of the last two years: how many, the spoiled ones, their cost, and rates by group."""

    casts: int
    spoiled: list[Cast]
    share: tuple[float, float]
    groups: list[Group]

    @property
    def shown(self) -> list[Cast]:
        return self.spoiled[:MOST_SHOWN]

    @property
    def days_lost(self) -> int:
        return sum(cast.spoilage.days_lost for cast in self._counted)

    @property
    def minutes_lost(self) -> int:
        return sum(cast.spoilage.minutes_lost for cast in self._counted)

    @property
    def cost_minor(self) -> int:
        return sum(cast.spoilage.cost_minor or 0 for cast in self._counted)

    @property
    def _counted(self) -> list[Cast]:
        return [cast for cast in self.spoiled if hasattr(cast, "spoilage")]


def reasons_in_use(unit: Unit, on: date) -> list[SpoilReason]:
    """Return the unit's reasons offered on a day. One query."""
    listed = unit.spoil_reasons.filter(from_on__lte=on)
    return [each for each in listed if each.until_on is None or each.until_on > on]


def spoilage_statistics(unit: Unit, now: datetime) -> SpoilageStatistics:
    """Return the statistics of the last two years. Four queries, however many casts."""
    casts = list(
        unit.casts.filter(pour__poured_at__gte=now - LOOKS_BACK)
        .select_related("piece__child", "piece__job", "pour__plaster", "spoilage__reason")
        .prefetch_related("piece__prints__sitting")
        .order_by("-pour__poured_at", "-pk")
    )
    spoiled = [cast for cast in casts if cast.spoiled_at]
    batches = _batches(unit, now)
    ways: list[tuple[str, str, Callable[[Cast], str]]] = [
        ("By limb", "limb", lambda cast: cast.piece.get_limb_display()),
        ("By age", "age", _age),
        ("By plaster", "plaster", _plaster),
        ("By plaster batch", "batch", lambda cast: batches.get(cast.pour_id, "batch not noted")),
    ]
    return SpoilageStatistics(
        casts=len(casts),
        spoiled=sorted(spoiled, key=lambda cast: cast.spoiled_at or now, reverse=True),
        share=spoilage_rates.wilson(len(spoiled), len(casts)),
        groups=[
            Group(
                title,
                anchor,
                spoilage_rates.spoilage_rates((of(cast), bool(cast.spoiled_at)) for cast in casts),
            )
            for title, anchor, of in ways
        ],
    )


def _age(cast: Cast) -> str:
    found = next((each for each in cast.piece.prints.all() if each.taken_at), None)
    on = pieces.local_day(found.taken_at if found and found.taken_at else cast.pour.poured_at)
    child = cast.piece.child
    return spoilage_rates.age_group(ages.corrected_days(child.born_on, child.due_on, on) // 7)


def _plaster(cast: Cast) -> str:
    return cast.pour.plaster.name if cast.pour.plaster else "kind not noted"


def _batches(unit: Unit, now: datetime) -> dict[int, str]:
    """Return by pour (primary key) the lots of plaster used for it. One query."""
    lots: defaultdict[int, list[str]] = defaultdict(list)
    moves = StockMove.objects.filter(
        unit=unit, pour__poured_at__gte=now - LOOKS_BACK, what=StockMove.What.USED
    ).select_related("lot__material")
    for move in moves:
        if move.pour_id:
            lots[move.pour_id].append(f"{move.lot.material.name}, {_lot(move)}")
    return {pour: " and ".join(sorted(set(names))) for pour, names in lots.items()}


def _lot(move: StockMove) -> str:
    return move.lot.label or f"of {move.lot.received_on:%d %b %Y}"
