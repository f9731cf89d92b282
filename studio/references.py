"""Job references for reading out over the phone: seven random symbols and a check symbol.

Crockford's base 32 (no I, L, O, U) with his modulo-37 check symbol. Five of the 37 check symbols are not ordinary letters
or digits (* ~ $ = U): references with one of these are drawn again. Stored "CY8YEGPH", displayed "CY8Y-EGPH".
"""

from collections.abc import Callable

SYMBOLS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
BODY_LENGTH = 7
LENGTH = BODY_LENGTH + 1

_CHECKS = SYMBOLS + "*~$=U"
_HALF = LENGTH // 2
_READ_AS = str.maketrans(
    "ILO", "110", " \t\n\r-\N{NON-BREAKING HYPHEN}\N{EN DASH}\N{NO-BREAK SPACE}"
)


def new_reference(choose: Callable[[str], str]) -> str:
    """Draw a new random reference. `choose` picks one symbol of a string: pass `secrets.choice`."""
    while True:
        body = "".join(choose(SYMBOLS) for _ in range(BODY_LENGTH))
        check = check_symbol(body)
        if check in SYMBOLS:
            return body + check


def normalise(text: str) -> str:
    """Convert an input to the stored form: any case, spaces, hyphens, I and L for 1, O for 0.

    Raises ValueError with a sentence for a wrong length, symbol or check symbol.
    """
    reference = text.upper().translate(_READ_AS)
    if len(reference) != LENGTH:
        raise ValueError(f"A reference has {LENGTH} letters and digits, like CY8Y-EGPH.")
    if strange := next((symbol for symbol in reference if symbol not in SYMBOLS), ""):
        raise ValueError(f"A reference never holds “{strange}”: check it letter by letter.")
    if check_symbol(reference[:BODY_LENGTH]) != reference[BODY_LENGTH]:
        raise ValueError("There is a slip in that reference: check it letter by letter.")
    return reference


def display(reference: str) -> str:
    """Format a stored reference for display: "CY8Y-EGPH"."""
    return f"{reference[:_HALF]}-{reference[_HALF:]}"


def check_symbol(body: str) -> str:
    """Compute the check symbol of base-32 symbols: their number modulo 37. "16J" (1234) has "D".

    It may be one of * ~ $ = U. Raises ValueError for a symbol outside the alphabet.
    """
    number = 0
    for symbol in body:
        number = number * len(SYMBOLS) + SYMBOLS.index(symbol)
    return _CHECKS[number % len(_CHECKS)]
