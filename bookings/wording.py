"""What a family is asked, purpose by purpose, and when the words were last changed.

Consent is asked apart from the terms of the order and kept with the words it was given in. To
change a wording, write it anew with a new version: what was given before keeps its own words.
"""

from typing import NamedTuple

from bookings.models import Consent


class Wording(NamedTuple):
    version: str  # the day from which it is asked
    question: str
    text: str


WORDINGS: dict[str, Wording] = {
    Consent.Purpose.KEEP: Wording(
        version="2026-11-01",
        question="May we keep photographs?",
        text=(
            "We take photographs of the sitting and of the casts, to work from and to show you how "
            "they come on. Only the people of this studio see them, and you on your private page. "
            "The order does not depend on it. You can take this back whenever you like, by a "
            "word or a message: from then on nobody is shown them."
        ),
    ),
    Consent.Purpose.SHOW: Wording(
        version="2026-11-01",
        question="May we show your finished casts to other families?",
        text=(
            "We would like to show photographs of your finished casts to other families, without "
            "a surname, an address or your child’s face. The order does not depend on it. You can "
            "take this back whenever you like, by a word or a message: we then stop showing them."
        ),
    ),
}


def of(purpose: str) -> Wording:
    """Raises KeyError for a purpose that nobody is asked about."""
    return WORDINGS[purpose]
