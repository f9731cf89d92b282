"""Age of a child at a sitting, and advice on whether that is a good age. Pure: today is an argument.

Months are added to the date of birth, never step by step, and clipped to the end of a shorter month
(31 Oct + 4 months = 28 Feb; a child born on 29 February turns on the 28th).

Twelve weeks and four months are common practice of the trade, without a published source; both are arguments, because
each unit sets its own.
"""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from dateutil.relativedelta import relativedelta

from studio import units

CORRECTED_UNTIL_MONTHS = 24

BEST_WITHIN_DAYS = 21

# Born before 37 completed weeks, the due date being 40 weeks.
_EARLY_BY_MORE_THAN_DAYS = (40 - 37) * 7

Verdict = Literal["before_birth", "too_young", "early", "best", "later"]


@dataclass(frozen=True, slots=True)
class Advice:
    """Advice on a sitting on a day: a verdict, the age then, and one or two sentences."""

    verdict: Verdict
    age: str
    sentence: str


def born_early(born_on: date, due_on: date | None) -> bool:
    """Whether a child was born before 37 weeks, the due date being 40 (AAP, Pediatrics 2004;114:1362)."""
    return due_on is not None and (due_on - born_on).days > _EARLY_BY_MORE_THAN_DAYS


def corrected_days(
    born_on: date, due_on: date | None, on: date, *, until_months: int = CORRECTED_UNTIL_MONTHS
) -> int:
    """Corrected age in days for judging size: since the due date for a child born early, else since birth.

    The correction ends `until_months` after birth (sources say one, two or three years). Negative before the due date
    of a child born early.
    """
    if due_on is None or not born_early(born_on, due_on):
        return (on - born_on).days
    if on >= months_after(born_on, until_months):
        return (on - born_on).days
    return (on - due_on).days


def months_after(born_on: date, months: int) -> date:
    """The day on which a child is so many months old, clipped to the end of a shorter month."""
    return born_on + relativedelta(months=months)


def earliest_sitting_on(born_on: date, weeks: int) -> date:
    """The first advised day for a sitting, counted from birth: younger hands stay curled."""
    return born_on + timedelta(weeks=weeks)


def best_sitting_on(born_on: date, months: int) -> date:
    """The best day for a sitting, in the middle of the best weeks."""
    return months_after(born_on, months)


def advise(
    born_on: date,
    due_on: date | None,
    on: date,
    *,
    earliest_weeks: int,
    best_months: int,
) -> Advice:
    """Advise on a sitting on a day. Ages count from birth; a note is added for a child born early.

    Only advises: `bookings.diary.booking_checks` refuses a sitting that is too early without a reason.
    """
    earliest_on = earliest_sitting_on(born_on, earliest_weeks)
    best_on = best_sitting_on(born_on, best_months)
    verdict = _verdict(born_on, on, earliest_on, best_on)
    age = units.age(born_on, on)
    best = f"about {_months(best_months)} is best (common practice)"
    best_day = units.day(best_on, on)
    sentence = {
        "before_birth": f"Not born yet then: from {units.day(earliest_on, on)}, and {best}, around {best_day}.",
        "too_young": f"{_opening(age)}: too young, such hands stay curled. From {units.day(earliest_on, on)} "
        f"({earliest_weeks} weeks) at the earliest; {best}, around {best_day}.",
        "early": f"{_opening(age)}: possible, though {best}, around {best_day}.",
        "best": f"{_opening(age)}: a good age; {best}.",
        "later": f"{_opening(age)}: it can be done, though {best}; allow time for a second try.",
    }[verdict]
    return Advice(verdict, age, sentence + _born_early_note(born_on, due_on, on))


def _verdict(born_on: date, on: date, earliest_on: date, best_on: date) -> Verdict:
    if on < born_on:
        return "before_birth"
    if on < earliest_on:
        return "too_young"
    if abs((on - best_on).days) <= BEST_WITHIN_DAYS:
        return "best"
    return "early" if on < best_on else "later"


def _born_early_note(born_on: date, due_on: date | None, on: date) -> str:
    if due_on is None or on < born_on or not born_early(born_on, due_on):
        return ""
    days = corrected_days(born_on, due_on, on)
    if days == (on - born_on).days:
        return ""
    if days < 0:
        return f" Born early: the due date is only on {units.day(due_on, on)}, so expect very small, curled hands."
    return (
        f" Born early: {units.age(due_on, on)} by the due date, so expect smaller hands and feet."
    )


def _months(months: int) -> str:
    return "1 month" if months == 1 else f"{months} months"


def _opening(age: str) -> str:
    return age[0].upper() + age[1:]
