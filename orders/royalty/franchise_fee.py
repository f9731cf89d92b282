"""The franchisor's fee for a period: a royalty on net takings and a marketing levy; pure.

Rates are agreed in writing and dated; this module only computes. Common practice, no source: a
percentage and a levy on takings excl. VAT, credit notes and refunds deducted in the period in which
they fall, and never less than a minimum fee. No tax or legal advice.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from studio import units
from studio.money import round_half_up


@dataclass(frozen=True, slots=True)
class Terms:
    """Terms agreed from a day. `minimum_minor` is for a whole period (0 for none); `vat_percent` is
    the franchisor's VAT on fee and levy (None for none).
    """

    valid_from: date
    royalty_percent: Decimal
    levy_percent: Decimal
    minimum_minor: int = 0
    vat_percent: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Taking:
    """One paper in minor units, below zero for a credit note or refund."""

    source: str
    """What it is, once in all returns: "INV-0007"."""
    on: date
    gross_minor: int
    vat_minor: int

    @property
    def net_minor(self) -> int:
        return self.gross_minor - self.vat_minor


@dataclass(frozen=True, slots=True)
class Share:
    """The takings of a period under one set of terms, with their part of fee and levy."""

    terms: Terms
    net_minor: int
    royalty_minor: int
    levy_minor: int


@dataclass(frozen=True, slots=True)
class Due:
    """The amounts of a period in minor units; `payable_minor` below zero is paid by the franchisor."""

    gross_minor: int
    vat_inside_minor: int
    net_minor: int
    shares: Sequence[Share]
    earned_minor: int
    """The royalty by percentage, before the minimum."""
    royalty_minor: int
    levy_minor: int
    vat_minor: int

    @property
    def is_minimum(self) -> bool:
        return self.royalty_minor > self.earned_minor

    @property
    def payable_minor(self) -> int:
        return self.royalty_minor + self.levy_minor + self.vat_minor


def due(takings: Iterable[Taking], terms: Sequence[Terms], *, ends_on: date) -> Due:
    """Return the amounts due for a period that ends on `ends_on`.

    Each taking is charged at the terms of its day; minimum and VAT on the fee follow the terms of
    the last day. Fee and levy are rounded half up once for each set of terms, the VAT once. Raises
    ValueError with a sentence if a day has no terms.
    """
    papers = list(takings)
    sums: dict[date, int] = {}
    known = {each.valid_from: each for each in terms}
    for paper in papers:
        begun = in_force(terms, paper.on).valid_from
        sums[begun] = sums.get(begun, 0) + paper.net_minor
    shares = [_share(known[begun], sums[begun]) for begun in sorted(sums)]
    last = in_force(terms, ends_on)
    earned_minor = sum(share.royalty_minor for share in shares)
    royalty_minor = max(earned_minor, last.minimum_minor) if last.minimum_minor else earned_minor
    levy_minor = sum(share.levy_minor for share in shares)
    return Due(
        gross_minor=sum(paper.gross_minor for paper in papers),
        vat_inside_minor=sum(paper.vat_minor for paper in papers),
        net_minor=sum(paper.net_minor for paper in papers),
        shares=shares,
        earned_minor=earned_minor,
        royalty_minor=royalty_minor,
        levy_minor=levy_minor,
        vat_minor=_percent_of(royalty_minor + levy_minor, last.vat_percent or Decimal(0)),
    )


def in_force(terms: Iterable[Terms], day: date) -> Terms:
    """Return the newest terms that have begun. Raises ValueError with a sentence without any."""
    begun = [each for each in terms if each.valid_from <= day]
    if not begun:
        raise ValueError(
            f"No royalty terms are written down for {units.full_day(day)}. Add them first."
        )
    return max(begun, key=lambda each: each.valid_from)


def _share(terms: Terms, net_minor: int) -> Share:
    return Share(
        terms,
        net_minor,
        royalty_minor=_percent_of(net_minor, terms.royalty_percent),
        levy_minor=_percent_of(net_minor, terms.levy_percent),
    )


def _percent_of(minor: int, percent: Decimal) -> int:
    return round_half_up(minor * percent / 100)
