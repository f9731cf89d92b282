"""Payment references of invoices, ISO 11649; pure."""

import re

from stdnum.iso7064 import mod_97_10


def creditor_reference(reference: str) -> str:
    """Return a job's reference as an ISO 11649 creditor reference: "RF", two check digits, the
    reference.

    It has at most 12 characters and fits the 18 of a UK payee reference.
    """
    bare = re.sub(r"\W", "", reference).upper()
    return f"RF{mod_97_10.calc_check_digits(bare + 'RF')}{bare}"


def in_fours(reference: str) -> str:
    """Format an ISO 11649 reference in groups of four, "RF45 CY8Y EGPH"; leave other numbers
    unchanged.
    """
    if not reference.startswith("RF"):
        return reference
    return " ".join(reference[at : at + 4] for at in range(0, len(reference), 4))
