"""Money as whole minor units (pence): rounding, splitting, parsing and formatting.

One rule of rounding everywhere: half up, away from zero, once (a retailer must not round VAT down: HMRC VATREC12020).
Python and Babel round half to even, so rounding is never left to them.
"""

import re
from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal

from babel.numbers import format_currency, get_currency_precision, get_currency_symbol

LOCALE = "en_GB"
LARGEST_MINOR = 10_000_000_00

_PLAIN = r"[0-9]+"
_IN_THOUSANDS = r"[0-9]{1,3}(?:,[0-9]{3})+"
_AMOUNT = re.compile(rf"(?P<whole>{_IN_THOUSANDS}|{_PLAIN})(?:\.(?P<part>[0-9]+))?", re.ASCII)


def round_half_up(value: Decimal) -> int:
    """Round to the nearest whole number, halves away from zero, so that a credit mirrors its invoice."""
    return int(value.to_integral_value(ROUND_HALF_UP))


def display(minor: int, currency: str) -> str:
    """Format an amount for display: `8500, "GBP"` is "£85.00", a negative one "-£5.00"."""
    amount = Decimal(minor).scaleb(-get_currency_precision(currency))
    return format_currency(amount, currency, locale=LOCALE)


def parse(text: str, currency: str) -> int:
    """Parse an amount to minor units: "85", "85.00", "£85.00", "1,250.5".

    A comma may only group thousands: "85,00" is refused rather than read as 8500.
    Raises ValueError with a sentence that says what to type.
    """
    symbol = get_currency_symbol(currency, locale=LOCALE)
    example = display(8500 if get_currency_precision(currency) else 85, currency)
    bare = _without_currency(text, symbol, currency)
    if bare.startswith(("-", "\N{MINUS SIGN}")):
        raise ValueError("An amount cannot be below zero.")
    found = _AMOUNT.fullmatch(bare)
    if found is None:
        raise ValueError(f"Type an amount of money, like {example}.")
    return _minor(found["whole"].replace(",", ""), found["part"] or "", currency)


def share(total: int, weights: Sequence[int]) -> list[int]:
    """Split `total` by `weights` so that the parts add up to it exactly.

    Largest remainder method; of equal remainders the earlier part gets the odd unit. A negative total mirrors the
    positive one. Raises ValueError for no weights, a negative one, or a sum of zero.
    """
    if any(weight < 0 for weight in weights):
        raise ValueError("A share cannot have a weight below zero.")
    whole = sum(weights)
    if whole == 0:
        raise ValueError("There is nothing to share by: every weight is zero.")
    if total < 0:
        return [-part for part in share(-total, weights)]
    parts = [total * weight // whole for weight in weights]
    by_remainder = sorted(range(len(weights)), key=lambda i: -(total * weights[i] % whole))
    for i in by_remainder[: total - sum(parts)]:
        parts[i] += 1
    return parts


def vat_inside(gross: int, percent: Decimal) -> int:
    """VAT contained in a gross price, rounded half up to the minor unit (HMRC VATREC12020).

    `gross` and the result in minor units, `percent` such as Decimal("20"). Raises ValueError for a negative rate.
    """
    if percent < 0:
        raise ValueError("A rate of VAT cannot be below zero.")
    return round_half_up(gross * percent / (100 + percent))


def _without_currency(text: str, symbol: str, currency: str) -> str:
    bare = text.strip()
    sign = ""
    if bare.startswith(("-", "\N{MINUS SIGN}")):
        sign, bare = bare[0], bare[1:].strip()
    for mark in (symbol, currency):
        bare = bare.removeprefix(mark).removesuffix(mark).strip()
    return sign + bare


def _minor(whole: str, part: str, currency: str) -> int:
    decimals = get_currency_precision(currency)
    if len(part) > decimals:
        allowed = f"at most {decimals} decimals" if decimals else "no decimals"
        raise ValueError(f"An amount in {currency} has {allowed}.")
    digits = (whole + part.ljust(decimals, "0")).lstrip("0") or "0"
    if len(digits) > len(str(LARGEST_MINOR)) or int(digits) > LARGEST_MINOR:
        raise ValueError(f"That is more than {display(LARGEST_MINOR, currency)}: check the amount.")
    return int(digits)
