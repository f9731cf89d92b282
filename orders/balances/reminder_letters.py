"""Reminders of unpaid invoices: age bucket, tone and text; pure."""

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Bucket:
    """An age bucket of debts in days past the due date, both ends included; `last` None has no end."""

    label: str
    first: int
    last: int | None

    def holds(self, days: int) -> bool:
        """Whether a number of days past the due date falls in this bucket."""
        return days >= self.first and (self.last is None or days <= self.last)


BUCKETS = (
    Bucket("not due yet", -100_000, 0),
    Bucket("1 to 30 days late", 1, 30),
    Bucket("31 to 60 days late", 31, 60),
    Bucket("61 to 90 days late", 61, 90),
    Bucket("over 90 days late", 91, None),
)


def bucket_of(days_late: int) -> int:
    """Return the index in BUCKETS for a number of days past the due date."""
    return next(place for place, bucket in enumerate(BUCKETS) if bucket.holds(days_late))


Tone = Literal["kind", "plain", "firm"]


def tone_of(days_late: int, reminders_before: int) -> Tone:
    """Return the tone of the next reminder; the first one is always kind."""
    if not reminders_before or days_late <= KIND_UP_TO_DAYS:
        return "kind"
    return "plain" if days_late <= PLAIN_UP_TO_DAYS else "firm"


@dataclass(frozen=True, slots=True)
class OpenInvoice:
    """An unpaid invoice with its amounts and days formatted for reading."""

    number: str
    payment_reference: str
    owed: str
    issued: str
    due: str


def reminder(
    of: OpenInvoice, *, tone: Tone, contact: str, children: str, payment_words: str, signed: str
) -> tuple[str, str]:
    """Return the subject and body of a reminder, a draft for the owner to edit and send."""
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
