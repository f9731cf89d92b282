"""What the franchisor is due for a period: a share of net takings, a levy for the common fund.

Rates are agreed in writing and dated; this module only computes. Common practice, no source: a
percentage and a fund levy on takings without VAT, credit notes and refunds taken off in the
period they fall in, never less than a minimum fee. No tax or legal advice.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from studio import units
from studio.money import round_half_up


@dataclass(frozen=True, slots=True)
class Terms:
    """What is agreed from a day on. `minimum_minor` is for a whole period, 0 for none;
    `vat_percent` is charged by the franchisor on the fee and the levy, None for none.
    """

    valid_from: date
    royalty_percent: Decimal
    levy_percent: Decimal
    minimum_minor: int = 0
    vat_percent: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Taking:
    """One paper of the books: below zero for a credit note or a refund. Minor units."""

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
    """The takings of a period under one set of terms, and their part of fee and levy."""

    terms: Terms
    net_minor: int
    royalty_minor: int
    levy_minor: int


@dataclass(frozen=True, slots=True)
class Due:
    """A period's sums in minor units. Below zero in `payable_minor`: the franchisor gives back."""

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
    """The return of a period that ends on `ends_on`.

    Each taking is charged at the terms of its own day; the minimum and the VAT on the fee are those
    of the last day. Fee and levy are rounded half up once for each set of terms, the VAT once.
    Raises ValueError with a sentence where no terms hold on a day.
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
    """The newest terms that had begun. Raises ValueError with a sentence where there are none."""
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
