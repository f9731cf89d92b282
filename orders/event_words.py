"""Kinds of history events about prices, payments and papers: see studio.event_words.

They contain no amounts, because helpers read the history too.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from studio.event_words import Facts, Kind, day_of, register, register_move_reasons


@dataclass(frozen=True, slots=True)
class OfPaper(Facts):
    """An event about a paper or voucher, with its number or displayed code."""

    number: str

    def words(self, names: Mapping[int, str]) -> str:
        return self.number


@dataclass(frozen=True, slots=True)
class OfLine(Facts):
    """An event about an order line: its label, and the quantity if there is one."""

    label: str
    quantity: int | None = None

    def words(self, names: Mapping[int, str]) -> str:
        return f"{self.quantity} × {self.label}" if self.quantity else self.label


@dataclass(frozen=True, slots=True)
class LookChosen(Facts):
    """The labels of backing and finish, and the changed texts for plate and layout."""

    labels: list[str]
    typed: list[str]

    def words(self, names: Mapping[int, str]) -> str:
        return ", ".join([*self.labels, *self.typed])


@dataclass(frozen=True, slots=True)
class FrameSized(Facts):
    """The frame was priced by a size in mm, None if it is not known."""

    frame_mm: int | None

    def words(self, names: Mapping[int, str]) -> str:
        return f"{self.frame_mm} mm" if self.frame_mm else "not known"


@dataclass(frozen=True, slots=True)
class LinkMade(Facts):
    """A private link was made that opens until a day (ISO date)."""

    until: str  # the day on which the link ends

    def words(self, names: Mapping[int, str]) -> str:
        return f"Opens until {day_of(self.until)}."


WAYS_HOME = {"collected": "Collected by the family.", "delivered": "Delivered to the family."}

register_move_reasons(WAYS_HOME)
register(
    accept_quote=Kind("Price accepted"),
    add_delivery=Kind("Delivery added", OfLine),
    add_discount=Kind("Discount given", OfLine),
    add_extra=Kind("Extra added", OfLine),
    add_reduction=Kind("Price reduced", OfLine),
    choose_look=Kind("Backing and finish chosen", LookChosen),
    credit_invoice=Kind("Invoice credited", OfPaper),
    credit_part=Kind("Part of an invoice credited", OfPaper),
    decline_quote=Kind("Price declined"),
    drop_line=Kind("Line taken off the order", OfLine),
    give_receipt=Kind("Receipt written", OfPaper),
    issue_invoice=Kind("Invoice issued", OfPaper),
    make_link=Kind("Family’s link made", LinkMade),
    note_reminder=Kind("Reminded of the invoice", OfPaper),
    pay_back=Kind("Paid back"),
    pay_by_voucher=Kind("Paid by voucher", OfPaper),
    reprice=Kind("Priced anew"),
    price_job=Kind("Priced"),
    release_on_account=Kind("Released unpaid"),
    reverse_payment=Kind("Payment reversed"),
    revoke_link=Kind("Family’s link revoked"),
    size_frame=Kind("Frame sized", FrameSized),
    take_payment=Kind("Payment taken"),
)
