"""Template filters that format money, lengths, masses, ages, days and references.

None says nothing; a misspelt name in a template fails loudly.
"""

from datetime import date, datetime

from django import template
from django.utils import timezone

from studio import money as coins
from studio import references, units

register = template.Library()


@register.filter
def money(minor: int | None, currency: str) -> str:
    """`{{ order.total_minor|money:unit.currency }}`: "£85.00"."""
    return "" if minor is None else coins.display(minor, currency)


@register.filter
def cm(mm: float | None) -> str:
    """`{{ frame.width_mm|cm }}`: "30.2 cm"."""
    return "" if mm is None else units.cm(mm)


@register.filter
def kg(g: float | None) -> str:
    """`{{ piece.mass_g|kg }}`: "269 g", "1.83 kg"."""
    return "" if g is None else units.kg(g)


@register.filter
def age(born_on: date | None, on: date) -> str:
    """`{{ child.born_on|age:today }}`: "15 weeks"."""
    return "" if born_on is None else units.age(born_on, _local_date(on))


@register.filter
def day(on: date | None, today: date | None = None) -> str:
    """`{{ job.due_on|day }}`: "Thu 3 Dec"; `|day:today` adds the year of another year. Times in local days."""
    return "" if on is None else units.day(_local_date(on), today)


@register.filter
def spoken(reference: str | None) -> str:
    """`{{ job.reference|spoken }}`: "CY8Y-EGPH"."""
    return "" if reference is None else references.display(reference)


def _local_date(on: date) -> date:
    return timezone.localtime(on).date() if isinstance(on, datetime) else on
