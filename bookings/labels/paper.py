"""Labels for clay moulds: child, limb, tray, and a QR code that opens the page of the piece.

First names only, because labels are left around and thrown away.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from urllib.parse import quote

import segno

from bookings import times
from bookings.sittings import screens
from bookings.sittings.models import ClayPrint, Sitting
from studio.accounts.models import Unit
from studio.stages import ActionRefused
from studio.web import paper

# Shape of the labels, and its CSS class on paper.
SHAPES = {"roll": "paper--roll", "a6": "paper--a6", "a4": "paper--labels"}

_PAGE_MARGIN_MM = 1.5

_GAP_MM = 1.5

_PT_PER_MM = 72 / 25.4

# Height and width of the text in em: five lines, one of them larger; "CY8Y-EGPH" in wide letters.
_WORDS_HIGH_EM, _WORDS_WIDE_EM = 6.9, 5.6

_MOST_PT = 16

Address = Callable[[str, int], str]  # (job reference, piece number) -> URL


@dataclass(frozen=True, slots=True)
class Label:
    """What one label shows; `address` is the URL in its QR code."""

    reference: str
    number: int
    first_name: str
    limb: str
    tray: str
    on: date
    address: str

    @property
    def code(self) -> str:
        """QR code of the URL as a data: URL; error correction M tolerates a smudge of clay."""
        drawn: str = segno.make(self.address, error="m", micro=False).svg_data_uri(border=4)
        return drawn


def labels_for_sittings(sittings: Iterable[Sitting], unit: Unit, address: Address) -> list[Label]:
    """Make a label for each print that is in the clay or still to be taken.

    Three queries for any number, if the sittings are loaded `with_people` and `with_pieces`.
    """
    return [
        _label(clay_print, sitting, unit, address)
        for sitting in sittings
        for clay_print in screens.sort_prints(sitting.prints.all(), unit)
        if _needs_label(clay_print)
    ]


def pdf(labels: list[Label], shape: str, unit: Unit) -> bytes:
    """Print labels as a PDF in one of the `SHAPES`. Raises ActionRefused if there are none."""
    if not labels:
        raise ActionRefused("There is no print here to label: nothing is planned or in the clay.")
    context = {"unit": unit, "labels": labels, "shape": SHAPES[shape]}
    if shape == "roll":
        css = roll_css(unit.label_width_mm, unit.label_height_mm)
        context["size"] = f"data:text/css,{quote(css)}"
    return paper.pdf("paper/labels.html", context)


def roll_css(width_mm: int, height_mm: int) -> str:
    """CSS for labels on a roll: the code takes the height or half of the width, whichever is less; the text beside it
    is as large as five lines fit.
    """
    inside_mm = height_mm - 2 * _PAGE_MARGIN_MM
    across_mm = width_mm - 2 * _PAGE_MARGIN_MM
    code_mm = min(inside_mm, across_mm / 2)
    beside_mm = across_mm - code_mm - _GAP_MM
    words_pt = min(
        inside_mm * _PT_PER_MM / _WORDS_HIGH_EM, beside_mm * _PT_PER_MM / _WORDS_WIDE_EM, _MOST_PT
    )
    return (
        f"@page roll {{ size: {width_mm}mm {height_mm}mm }}"
        f" .paper--roll .label {{ height: {inside_mm - 0.2:.1f}mm }}"
        f" .paper--roll .label__code {{ width: {code_mm:.1f}mm; height: {code_mm:.1f}mm }}"
        f" .paper--roll .label__words {{ left: {code_mm + _GAP_MM:.1f}mm;"
        f" width: {beside_mm:.1f}mm; font-size: {words_pt:.1f}pt }}"
    )


def _needs_label(clay_print: ClayPrint) -> bool:
    put_off = clay_print.outcome == ClayPrint.Outcome.NOT_TODAY
    return clay_print.live and not put_off and not clay_print.piece.left_off_at


def _label(clay_print: ClayPrint, sitting: Sitting, unit: Unit, address: Address) -> Label:
    piece = clay_print.piece
    number = [each.pk for each in sitting.job.pieces.all()].index(piece.pk) + 1
    taken_at = clay_print.taken_at or sitting.starts_at
    return Label(
        reference=sitting.job.display_reference,
        number=number,
        first_name=piece.child.first_name,
        limb=piece.get_limb_display(),
        tray=clay_print.tray,
        on=times.local_day(taken_at, unit.time_zone),
        address=address(sitting.job.reference, number),
    )
