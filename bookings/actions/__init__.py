"""What people do about enquiries, sittings, impressions, consent and photographs."""

from bookings.actions.consent import give_consent, withdraw_consent
from bookings.actions.enquiries import (
    answer_with_family,
    answer_with_new_family,
    decline_enquiry,
    send_enquiry,
    take_enquiry,
)
from bookings.actions.impressions import (
    arrive,
    finish_sitting,
    log_impression,
    lose_impression,
    reopen_sitting,
)
from bookings.actions.photographs import add_photo, erase_photos, make_sizes
from bookings.actions.sittings import book_again, book_sitting, cancel_sitting, move_sitting

__all__ = [
    "add_photo",
    "answer_with_family",
    "answer_with_new_family",
    "arrive",
    "book_again",
    "book_sitting",
    "cancel_sitting",
    "decline_enquiry",
    "erase_photos",
    "finish_sitting",
    "give_consent",
    "log_impression",
    "lose_impression",
    "make_sizes",
    "move_sitting",
    "reopen_sitting",
    "send_enquiry",
    "take_enquiry",
    "withdraw_consent",
]
