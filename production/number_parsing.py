"""Parsing of numbers as people type, dictate or paste them: "412", "412.5", "412,5 g", "21 °C".

Also in words, as some tablets transcribe speech: "four hundred and twelve", "four one two".
"""

import re

_UNITS = [
    *("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"),
    *("ten", "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen"),
    *("eighteen", "nineteen"),
]

_TENS = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]

_VALUES = {word: value for value, word in enumerate(_UNITS)} | {
    word: 10 * value for value, word in enumerate(_TENS, start=2)
}

_THOUSANDS = re.compile(r"-?[0-9]{1,3}(,[0-9]{3})+(\.[0-9]+)?")

_DIGITS = _UNITS[:10]

_SCALES = {"hundred": 100, "thousand": 1000}

_IGNORED_WORDS = {"and", "grams", "gram", "g", "degrees", "percent", "millimetres", "kilos"}


def parse_number(text: str, strip: str = "g") -> float:
    """Parse a number with an optional unit `strip`. Raises ValueError with a sentence if there is none."""
    words = text.strip().lower().removesuffix(strip.lower()).strip()
    plain = words.replace("\u2212", "-").replace(" ", "")
    # "1,234" are thousands, "412,5" is a decimal comma.
    plain = plain.replace(",", "") if _THOUSANDS.fullmatch(plain) else plain.replace(",", ".")
    try:
        return float(plain)
    except ValueError:
        return _parse_words(words)


def _parse_words(words: str) -> float:
    words_left = [word for word in words.replace("-", " ").split() if word not in _IGNORED_WORDS]
    whole, _, part = " ".join(words_left).partition(" point ")
    if not whole:
        raise ValueError("No number was written.")
    value = float(_parse_whole(whole.split()))
    digits = "".join(str(_parse_digit(word)) for word in part.split())
    return value + (float(f"0.{digits}") if digits else 0.0)


def _parse_whole(words_left: list[str]) -> int:
    if len(words_left) > 1 and all(word in _DIGITS for word in words_left):
        return int("".join(str(_VALUES[word]) for word in words_left))  # "four one two"
    total, group = 0, 0
    for word in words_left:
        if word == "thousand":
            total, group = total + max(group, 1) * _SCALES[word], 0
        elif word == "hundred":
            group = max(group, 1) * _SCALES[word]
        elif word in _VALUES:
            group += _VALUES[word]
        else:
            raise ValueError(f"“{word}” is no number.")
    return total + group


def _parse_digit(word: str) -> int:
    if word not in _DIGITS:
        raise ValueError(f"“{word}” is no digit.")
    return _VALUES[word]
