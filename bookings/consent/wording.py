"""Wordings of the consent questions, by purpose and version.

Consent is asked separately from the terms of the order and stored with the version of its wording. To change a wording,
move it to `EARLIER_WORDINGS` and add the new one with the day from which it is used as its version: consent given before
keeps its wording, and entries of a tablet with the old version are still understood.
"""

from typing import NamedTuple

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from bookings.consent.models import Consent


class Wording(NamedTuple):
    """A question and its explanation, in the source language unless translated."""

    version: str  # the day from which it is used
    question: str
    text: str

    def translated(self) -> "Wording":
        """Return the wording in the language of the reader."""
        return self._replace(question=_(self.question), text=_(self.text))


# In the order of the questions.
WORDINGS: dict[str, Wording] = {
    Consent.Purpose.MAKE: Wording(
        version="2026-11-25",
        question=gettext_noop("May we take the prints and make the casts?"),
        text=gettext_noop(
            "We press your child’s hands or feet into soft clay, one at a time, while you hold "
            "your child, and cast plaster from the prints later, away from your child. We stop "
            "when your child is distressed or the skin turns red, and whenever you say so. You can "
            "take this back whenever you like, on your private page, by a word or a message: we "
            "then stop the work at once and speak with you about the order."
        ),
    ),
    Consent.Purpose.KEEP: Wording(
        version="2026-11-25",
        question=gettext_noop("May we keep photographs?"),
        text=gettext_noop(
            "We take photographs of the sitting and of the casts, to work from and to show you how "
            "they come on. Only the people of this studio see them, and you on your private page. "
            "The order does not depend on it. You can take this back whenever you like, on your "
            "private page, by a word or a message: from then on nobody is shown them, and we "
            "erase them."
        ),
    ),
    Consent.Purpose.SHOW: Wording(
        version="2026-11-25",
        question=gettext_noop("May we show your finished casts on our page?"),
        text=gettext_noop(
            "We would like to show photographs of your finished casts on the studio’s own page, "
            "without a surname, an address or your child’s face. That takes your yes to keeping "
            "them too. The order does not depend on it. You can take this back whenever you like, "
            "on your private page, by a word or a message: we then stop showing them."
        ),
    ),
}

EARLIER_WORDINGS: dict[str, tuple[Wording, ...]] = {
    Consent.Purpose.KEEP: (
        Wording(
            version="2026-11-01",
            question=gettext_noop("May we keep photographs?"),
            text=gettext_noop(
                "We take photographs of the sitting and of the casts, to work from and to show you "
                "how they come on. Only the people of this studio see them, and you on your "
                "private page. The order does not depend on it. You can take this back whenever "
                "you like, by a word or a message: from then on nobody is shown them."
            ),
        ),
    ),
    Consent.Purpose.SHOW: (
        Wording(
            version="2026-11-01",
            question=gettext_noop("May we show your finished casts to other families?"),
            text=gettext_noop(
                "We would like to show photographs of your finished casts to other families, "
                "without a surname, an address or your child’s face. The order does not depend on "
                "it. You can take this back whenever you like, by a word or a message: we then "
                "stop showing them."
            ),
        ),
    ),
}


def find_wording(purpose: str, version: str = "") -> Wording:
    """Return the current wording for a purpose, or that of an earlier `version`, translated.

    Raises KeyError for an unknown purpose or version.
    """
    today = WORDINGS[purpose]
    if version in ("", today.version):
        return today.translated()
    for earlier in EARLIER_WORDINGS.get(purpose, ()):
        if earlier.version == version:
            return earlier.translated()
    raise KeyError(version)
