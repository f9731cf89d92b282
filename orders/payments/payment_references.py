"""The payment reference of an invoice: ISO 11649, as banks print it; pure."""

import re

from stdnum.iso7064 import mod_97_10


def creditor_reference(reference: str) -> str:
    """The job's reference as ISO 11649 wants it on an invoice: "RF" and two check digits before it.

    At most 12 characters, so it fits the 18 that a payee reference may hold in the UK.
    """
    bare = re.sub(r"\W", "", reference).upper()
    return f"RF{mod_97_10.calc_check_digits(bare + 'RF')}{bare}"


def in_fours(reference: str) -> str:
    """As ISO 11649 prints it: "RF45 CY8Y EGPH"; a number of before as it is."""
    if not reference.startswith("RF"):
        return reference
    return " ".join(reference[at : at + 4] for at in range(0, len(reference), 4))
