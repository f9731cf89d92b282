"""Bank holidays of the United Kingdom, from the dates that gov.uk published up to the last year named there. Pure.

Source: gov.uk bank holidays, as bundled by govuk-bank-holidays [src]; nothing is asked of the network.
"""

from collections.abc import Mapping
from datetime import date
from functools import cache

from govuk_bank_holidays.bank_holidays import BankHolidays

DIVISIONS = (
    BankHolidays.ENGLAND_AND_WALES,
    BankHolidays.SCOTLAND,
    BankHolidays.NORTHERN_IRELAND,
)


@cache
def bank_holidays(division: str) -> Mapping[date, str]:
    """Each bank holiday of "england-and-wales", "scotland" or "northern-ireland" with its name.

    Empty for any other division.
    """
    if division not in DIVISIONS:
        return {}
    known = BankHolidays(use_cached_holidays=True).get_holidays(division=division)
    return {holiday["date"]: holiday["title"] for holiday in known}


def known_until(division: str) -> date | None:
    """The last day of the last year whose bank holidays are known; None where none are kept."""
    days = bank_holidays(division)
    return date(max(days).year, 12, 31) if days else None


def between(division: str, first_on: date, last_on: date) -> list[tuple[date, str]]:
    """The bank holidays of these days, both included, in order."""
    return sorted(
        (day, name) for day, name in bank_holidays(division).items() if first_on <= day <= last_on
    )
