"""The margin of a job: takings excl. VAT less material, the owner's time, fees and travel; pure.

Amounts are minor units. It is a guide for the owner, not an account of profit for tax.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from decimal import Decimal
from statistics import median

from studio.money import round_half_up


@dataclass(frozen=True, slots=True)
class Rates:
    """The unit's rates; percentages are of what the family pays, incl. VAT."""

    hour_minor: int
    card_percent: Decimal
    royalty_percent: Decimal
    """Royalty and levy together, of takings without VAT."""


@dataclass(frozen=True, slots=True)
class Work:
    """What one job took in time and material, and what it brought in, in minor units and minutes.

    `key` is the job's reference. Jobs are grouped by `group` (what was ordered) or `source` (where the family heard
    of the studio).
    """

    key: str
    gross_minor: int
    vat_minor: int
    by_card_minor: int
    material_minor: int
    minutes: int
    travel_minor: int
    group: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True)
class Earned:
    """The takings and costs of one job, in minor units."""

    key: str
    net_minor: int
    material_minor: int
    work_minor: int
    fees_minor: int
    travel_minor: int
    minutes: int

    @property
    def margin_minor(self) -> int:
        spent = self.material_minor + self.work_minor + self.fees_minor + self.travel_minor
        return self.net_minor - spent

    @property
    def before_work_minor(self) -> int:
        """The margin before the owner's own time, in minor units."""
        return self.margin_minor + self.work_minor

    @property
    def an_hour_minor(self) -> int | None:
        """The earnings per hour of the owner's time in minor units, None without recorded minutes."""
        if not self.minutes:
            return None
        return round_half_up(Decimal(self.before_work_minor * 60) / self.minutes)


def earned(work: Work, rates: Rates) -> Earned:
    """Return what a job earns at the given rates, in minor units."""
    net_minor = work.gross_minor - work.vat_minor
    return Earned(
        key=work.key,
        net_minor=net_minor,
        material_minor=work.material_minor,
        work_minor=round_half_up(Decimal(work.minutes * rates.hour_minor) / 60),
        fees_minor=round_half_up(
            work.by_card_minor * rates.card_percent / 100 + net_minor * rates.royalty_percent / 100
        ),
        travel_minor=work.travel_minor,
        minutes=work.minutes,
    )


@dataclass(frozen=True, slots=True)
class Group:
    """The jobs of one kind or source: sums in minor units and minutes, and the median margin of a job."""

    name: str
    jobs: int
    net_minor: int
    margin_minor: int
    median_minor: int
    minutes: int

    @property
    def share(self) -> Decimal:
        """The margin as a percentage of net takings, 0 without takings."""
        if not self.net_minor:
            return Decimal(0)
        return Decimal(self.margin_minor * 100) / self.net_minor


def by(works: Iterable[Work], rates: Rates, name: Callable[[Work], str]) -> list[Group]:
    """Group jobs by a key, the group that earns most first."""
    groups: dict[str, list[Earned]] = defaultdict(list)
    for work in works:
        groups[name(work)].append(earned(work, rates))
    found = [
        Group(
            name=title,
            jobs=len(jobs),
            net_minor=sum(each.net_minor for each in jobs),
            margin_minor=sum(each.margin_minor for each in jobs),
            median_minor=round_half_up(Decimal(str(median(each.margin_minor for each in jobs)))),
            minutes=sum(each.minutes for each in jobs),
        )
        for title, jobs in groups.items()
    ]
    return sorted(found, key=lambda group: (-group.margin_minor, group.name))
