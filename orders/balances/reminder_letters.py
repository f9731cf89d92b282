"""Reminders of unpaid invoices: age bucket, tone and text; pure."""

from dataclasses import dataclass
from typing import Literal

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop


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


# The body and the closing of a letter.
_LETTERS: dict[Tone, tuple[str, str]] = {
    "kind": (
        gettext_noop(
            "I hope the casts of %(children)s have found their place. A small thing: invoice "
            "%(number)s of %(issued)s may have slipped by. %(owed)s of it was due on %(due)s."
        ),
        gettext_noop(
            "If you have paid in the last few days, thank you, and please take no notice of this."
        ),
    ),
    "plain": (
        gettext_noop(
            "I am writing about invoice %(number)s of %(issued)s: %(owed)s of it was due on "
            "%(due)s and is still open."
        ),
        gettext_noop(
            "Please pay within the next week, or tell me if something is not as it should be."
        ),
    ),
    "firm": (
        gettext_noop(
            "I have not heard from you about invoice %(number)s of %(issued)s: %(owed)s has been "
            "open since %(due)s."
        ),
        gettext_noop(
            "Please pay within a week, or call me: we shall find a way, in parts if that helps."
        ),
    ),
}


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
    facts = {
        "children": children,
        "number": of.number,
        "issued": of.issued,
        "owed": of.owed,
        "due": of.due,
        "reference": of.payment_reference,
        "contact": contact,
    }
    body, closing = _LETTERS[tone]
    parts = [
        _("Dear %(contact)s,") % facts,
        _(body) % facts,
        payment_words,
        _("Please give the reference %(reference)s.") % facts,
        _(closing),
        signed,
    ]
    return _("Invoice %(number)s") % facts, "\n\n".join(filter(None, parts))


KIND_UP_TO_DAYS, PLAIN_UP_TO_DAYS = 14, 42
