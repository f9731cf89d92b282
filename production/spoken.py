"""Numbers as people type, dictate or paste them with wet hands: "412", "412.5", "412,5 g", "21 °C".

Also in words, as some tablets write what they hear: "four hundred and twelve", "four one two".
"""

import re

_UNITS = [
    *("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"),
    *("ten", "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen"),
    *("eighteen", "nineteen"),
]
_TENS = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]
_WORTH = {word: value for value, word in enumerate(_UNITS)} | {
    word: 10 * value for value, word in enumerate(_TENS, start=2)
}
_THOUSANDS = re.compile(r"-?[0-9]{1,3}(,[0-9]{3})+(\.[0-9]+)?")
_DIGITS = _UNITS[:10]
_SCALES = {"hundred": 100, "thousand": 1000}
_FILL = {"and", "grams", "gram", "g", "degrees", "percent", "millimetres", "kilos"}


def read_number(written: str, strip: str = "g") -> float:
    """The number that was meant. Raises ValueError where none can be made out."""
    words = written.strip().lower().removesuffix(strip.lower()).strip()
    plain = words.replace("\u2212", "-").replace(" ", "")
    # "1,234" are thousands, "412,5" is a decimal comma.
    plain = plain.replace(",", "") if _THOUSANDS.fullmatch(plain) else plain.replace(",", ".")
    try:
        return float(plain)
    except ValueError:
        return _spoken(words)


def _spoken(words: str) -> float:
    said = [word for word in words.replace("-", " ").split() if word not in _FILL]
    whole, _, part = " ".join(said).partition(" point ")
    if not whole:
        raise ValueError("No number was written.")
    value = float(_whole(whole.split()))
    digits = "".join(str(_digit(word)) for word in part.split())
    return value + (float(f"0.{digits}") if digits else 0.0)


def _whole(said: list[str]) -> int:
    if len(said) > 1 and all(word in _DIGITS for word in said):
        return int("".join(str(_WORTH[word]) for word in said))  # "four one two"
    total, group = 0, 0
    for word in said:
        if word == "thousand":
            total, group = total + max(group, 1) * _SCALES[word], 0
        elif word == "hundred":
            group = max(group, 1) * _SCALES[word]
        elif word in _WORTH:
            group += _WORTH[word]
        else:
            raise ValueError(f"“{word}” is no number.")
    return total + group


def _digit(word: str) -> int:
    if word not in _DIGITS:
        raise ValueError(f"“{word}” is no digit.")
    return _WORTH[word]
