"""A language of our own in which every sentence that gettext knows is in [brackets].

A page that is shown in it tells what was not translated: the words outside of the brackets. Data
(names, what the owner typed) carries a ß in every word, so that it is told from a forgotten sentence.
"""

import gettext
import re
from contextlib import contextmanager

from django.utils import translation
from django.utils.translation import trans_real
from tinyhtml5.parser import HTMLParser

LANGUAGE = "xx"

READ_ALOUD = ("alt", "aria-label", "data-label", "placeholder", "title")

NOT_READ = ("script", "style", "link", "meta")

_WORD = re.compile(r"[^\W\d_]{2,}")
# Units of measure, references (CY8Y-EGPH, RF18 CY8Y, INV-0001), addresses: the same in any language.
_SAME = re.compile(
    r"\b(?:mm|cm|kg|g)\b|\b(?:INV|CRN|RCT)-\d+|\b[A-Z0-9]{4}-[A-Z0-9]{4}\b"
    r"|\bRF\d\d(?: [A-Z0-9]{1,4})+|\S+@\S+|\bhttps?://\S+"
)


class _Brackets(gettext.NullTranslations):
    def gettext(self, message):
        return f"[{message.rpartition(trans_real.CONTEXT_SEPARATOR)[2]}]"

    def ngettext(self, msgid1, msgid2, n):
        return self.gettext(msgid1 if n == 1 else msgid2)

    def to_language(self):
        return LANGUAGE


@contextmanager
def reading_brackets():
    """Let the reader's language be the one in brackets."""
    trans_real._translations[LANGUAGE] = _Brackets()
    try:
        with translation.override(LANGUAGE):
            yield
    finally:
        del trans_real._translations[LANGUAGE]


def data(text):
    """The text with a ß in every word, as a name or as what an owner typed."""
    return _WORD.sub(lambda word: f"{word[0]}ß", text)


def untranslated(text):
    """The words of a text that are neither in brackets nor data."""
    bare, found = text, 1
    while found:  # from the inside out
        bare, found = re.subn(r"\[[^\[\]]*\]", " ", bare)
    assert not set(bare) & set("[]"), f"a bracket without its other half: {bare}"
    return [word for word in _WORD.findall(_SAME.sub(" ", bare)) if "ß" not in word]


def untranslated_in(html):
    """The same of a page or a part, including what is only read aloud."""
    parser = HTMLParser(namespace_html_elements=False)
    parser._parse(html)
    texts = []
    for element in parser.tree.get_document().iter():
        if isinstance(element.tag, str) and element.tag not in NOT_READ:
            texts += [element.get(name, "") for name in READ_ALOUD] + [element.text or ""]
        texts.append(element.tail or "")
    return untranslated(" ".join(texts))
