"""Reminders of unpaid invoices: how late, in which tone, in which words; pure."""

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Bucket:
    """A step of lateness: days past the day by which to pay, both included; None: no end."""

    words: str
    first: int
    last: int | None

    def holds(self, days: int) -> bool:
        return days >= self.first and (self.last is None or days <= self.last)


BUCKETS = (
    Bucket("not due yet", -100_000, 0),
    Bucket("1 to 30 days late", 1, 30),
    Bucket("31 to 60 days late", 31, 60),
    Bucket("61 to 90 days late", 61, 90),
    Bucket("over 90 days late", 91, None),
)


def bucket_of(days_late: int) -> int:
    """Its place in BUCKETS."""
    return next(place for place, bucket in enumerate(BUCKETS) if bucket.holds(days_late))


Tone = Literal["kind", "plain", "firm"]


def tone_of(days_late: int, reminders_before: int) -> Tone:
    """A first reminder is always a kind one; none ever threatens."""
    if not reminders_before or days_late <= KIND_UP_TO_DAYS:
        return "kind"
    return "plain" if days_late <= PLAIN_UP_TO_DAYS else "firm"


@dataclass(frozen=True, slots=True)
class Open:
    """An invoice that is not paid, as people read it: amounts and days in words."""

    number: str
    payment_reference: str
    owed: str
    issued: str
    due: str


def reminder(
    of: Open, *, tone: Tone, contact: str, children: str, payment_words: str, signed: str
) -> tuple[str, str]:
    """Subject and words of a polite reminder, for the owner to read, change and send or leave."""
    opening = {
        "kind": f"I hope the casts of {children} have found their place. A small thing: ",
        "plain": "I am writing about ",
        "firm": "I have not heard from you about ",
    }[tone]
    body = {
        "kind": f"invoice {of.number} of {of.issued} may have slipped by. {of.owed} of it was due on {of.due}.",
        "plain": f"invoice {of.number} of {of.issued}: {of.owed} of it was due on {of.due} and is still open.",
        "firm": f"invoice {of.number} of {of.issued}: {of.owed} has been open since {of.due}.",
    }[tone]
    closing = {
        "kind": "If you have paid in the last few days, thank you, and please take no notice of this.",
        "plain": "Please pay within the next week, or tell me if something is not as it should be.",
        "firm": "Please pay within a week, or call me: we shall find a way, in parts if that helps.",
    }[tone]
    how = f"Please give the reference {of.payment_reference}."
    parts = [f"Dear {contact},", opening + body, payment_words, how, closing, signed]
    return f"Invoice {of.number}", "\n\n".join(filter(None, parts))


KIND_UP_TO_DAYS, PLAIN_UP_TO_DAYS = 14, 42
