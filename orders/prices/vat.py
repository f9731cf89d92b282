"""VAT on sales: registration, tax points, rounding, sharing, and turnover of twelve months; pure.

Prices include the tax. Amounts are minor units; every rounding is half up, once, at the place that
says so (a retailer must not round VAT down: HMRC VATREC12020 [src]). Names are those of the United
Kingdom's VAT; a tax of the same kind in another country uses the same calculation.
"""

from collections import deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from math import floor
from typing import Literal

from dateutil.relativedelta import relativedelta

from studio import money

PACE_DAYS = 91

LOOK_AHEAD_DAYS = 365


class NoRate(LookupError):
    """The trader is registered, but no rate is recorded for the day."""


@dataclass(frozen=True, slots=True)
class Rate:
    """A percentage in force from a day until the next rate."""

    valid_from: date
    percent: Decimal


@dataclass(frozen=True, slots=True)
class Registration:
    """A period of registration, the last day excluded; `None` as first day means never registered."""

    from_on: date | None
    left_on: date | None = None

    def holds_on(self, day: date) -> bool:
        """Whether the trader is registered for VAT on a day."""
        if self.from_on is None or day < self.from_on:
            return False
        return self.left_on is None or day < self.left_on


@dataclass(frozen=True, slots=True)
class Received:
    """Money received or (below zero) paid back, and not reversed."""

    on: date
    amount_minor: int
    how: str
    taxed_before: str = ""
    """For a voucher taxed when it was sold: the label of the line that reduces the invoice."""


@dataclass(frozen=True, slots=True)
class TaxPoint:
    """A part of the total, the day of its tax point, and its rate (None: not registered then)."""

    on: date
    gross_minor: int
    percent: Decimal | None


@dataclass(frozen=True, slots=True)
class Tax:
    """One rate of an invoice: net + VAT = gross, exactly."""

    percent: Decimal | None
    net_minor: int
    vat_minor: int
    gross_minor: int
    points: Sequence[tuple[date, int, int]]
    """Day, gross and VAT of each slice; the last takes the difference of the rounding."""


def slices(
    total_minor: int, received: Iterable[Received], supplied_on: date
) -> list[tuple[date, int]]:
    """Split a total by tax point: payments before the supply on their days, the rest at the supply.

    A deposit makes a tax point for its amount on receipt (HMRC VATTOS5105). Refunds are taken from
    the newest deposit. Days ascend; the amounts add up to the total.
    """
    early = sorted((r for r in received if r.on < supplied_on), key=lambda r: r.on)
    left = early_minor = max(0, min(total_minor, sum(r.amount_minor for r in early)))
    by_day: dict[date, int] = {}
    for deposit in (r for r in early if r.amount_minor > 0):
        taken = min(deposit.amount_minor, left)
        by_day[deposit.on] = by_day.get(deposit.on, 0) + taken
        left -= taken
    by_day[supplied_on] = total_minor - early_minor
    return [(on, amount) for on, amount in by_day.items() if amount]


def percent_on(day: date, registration: Registration, rates: Iterable[Rate]) -> Decimal | None:
    """Return the rate of a tax point, None if the trader is not registered on that day.

    The tax point decides about the registration (HMRC CH91350 [src]). Raises NoRate.
    """
    if not registration.holds_on(day):
        return None
    begun = [rate for rate in rates if rate.valid_from <= day]
    if not begun:
        raise NoRate(day)
    return max(begun, key=lambda rate: rate.valid_from).percent


def taxes(points: Sequence[TaxPoint]) -> list[Tax]:
    """Return net and VAT for each rate, rounded half up once on its total (HMRC VATREC12020).

    The highest rate comes first, sales before the registration last.
    """
    rates = {point.percent for point in points}
    ordered = sorted(rates, key=lambda p: Decimal(-1) if p is None else p, reverse=True)
    return [_tax(percent, [p for p in points if p.percent == percent]) for percent in ordered]


def nets(gross: Sequence[int], net_minor: int) -> list[int]:
    """Share the net total among lines of these gross amounts: largest remainder, exact sum.

    Reductions (below zero) get shares below zero. Raises ValueError if the gross amounts add up to
    nothing.
    """
    whole = sum(gross)
    if whole == 0:
        raise ValueError("There is nothing to share by: the lines come to nothing.")
    exact = [Fraction(amount * net_minor, whole) for amount in gross]
    parts = [floor(part) for part in exact]
    by_remainder = sorted(range(len(parts)), key=lambda i: parts[i] - exact[i])
    for i in by_remainder[: net_minor - sum(parts)]:
        parts[i] += 1
    return parts


def charged(gross: Sequence[int]) -> list[int]:
    """Return each line less its share of the reductions: largest remainder, exact sum.

    A reduction (below zero) is shared among the lines above zero by their amounts, and becomes 0.
    """
    above = [max(0, amount) for amount in gross]
    if not any(above):
        return [0] * len(gross)
    off = money.share(sum(amount for amount in gross if amount < 0), above)
    return [amount + part for amount, part in zip(above, off, strict=True)]


@dataclass(frozen=True, slots=True)
class Supply:
    """A taxable supply at its tax point, in minor units excl. VAT; below zero for a credit."""

    on: date
    amount_minor: int


@dataclass(frozen=True, slots=True)
class Threshold:
    """A registration threshold: above `register_minor` in twelve months a trader must register,
    below `leave_minor` a registered trader may leave; at `warn_percent` of it the owner is warned.
    """

    valid_from: date
    register_minor: int
    leave_minor: int
    warn_percent: int = 80


@dataclass(frozen=True, slots=True)
class Turnover:
    """The turnover of the twelve months up to `until`, with the threshold of that day."""

    until: date
    total_minor: int
    threshold: Threshold | None
    level: Literal["calm", "soon", "over"]
    reached_on: date | None
    """When it will be passed at the pace of the last three months; None: not within a year."""

    @property
    def left_minor(self) -> int:
        """What is left up to the threshold, in minor units."""
        return max(0, self.threshold.register_minor - self.total_minor) if self.threshold else 0


def twelve_months(supplies: Iterable[Supply], until: date) -> int:
    """Return the turnover of the twelve months that end with `until`, in minor units."""
    begins = until - relativedelta(months=12)
    return sum(supply.amount_minor for supply in supplies if begins < supply.on <= until)


def turnover(supplies: Sequence[Supply], thresholds: Iterable[Threshold], today: date) -> Turnover:
    """Compare the turnover of twelve months with the threshold; without one return the sum alone."""
    total_minor = twelve_months(supplies, today)
    begun = [each for each in thresholds if each.valid_from <= today]
    threshold = max(begun, key=lambda each: each.valid_from, default=None)
    if threshold is None:
        return Turnover(today, total_minor, None, "calm", None)
    if total_minor > threshold.register_minor:
        return Turnover(today, total_minor, threshold, "over", today)
    near = total_minor * 100 >= threshold.warn_percent * threshold.register_minor
    reached_on = _reached_on(supplies, threshold.register_minor, today)
    level: Literal["calm", "soon"] = "soon" if near or reached_on else "calm"
    return Turnover(today, total_minor, threshold, level, reached_on)


def _reached_on(supplies: Sequence[Supply], register_minor: int, today: date) -> date | None:
    """Return the first day of the coming year on which the turnover would exceed the sum."""
    since = today - timedelta(days=PACE_DAYS)
    lately_minor = max(0, sum(s.amount_minor for s in supplies if since < s.on <= today))
    window = deque(sorted((s for s in supplies if s.on <= today), key=lambda s: s.on))
    known_minor = sum(supply.amount_minor for supply in window)
    for days in range(1, LOOK_AHEAD_DAYS + 1):
        day = today + timedelta(days=days)
        while window and window[0].on <= day - relativedelta(months=12):
            known_minor -= window.popleft().amount_minor
        if known_minor + Fraction(lately_minor * days, PACE_DAYS) > register_minor:
            return day
    return None


def _tax(percent: Decimal | None, points: Sequence[TaxPoint]) -> Tax:
    gross_minor = sum(point.gross_minor for point in points)
    if percent is None:
        untaxed = [(point.on, point.gross_minor, 0) for point in points]
        return Tax(None, gross_minor, 0, gross_minor, untaxed)
    vat_minor = money.vat_inside(gross_minor, percent)
    left, split = vat_minor, []
    for point in points[:-1]:
        part = money.vat_inside(point.gross_minor, percent)
        split.append((point.on, point.gross_minor, part))
        left -= part
    split.append((points[-1].on, points[-1].gross_minor, left))
    return Tax(percent, gross_minor - vat_minor, vat_minor, gross_minor, split)
