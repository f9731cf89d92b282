"""Register the models of the rooms of bookings with Django; never import from here."""

from bookings.consent.models import Consent
from bookings.enquiries.models import Enquiry
from bookings.photos.models import Photo
from bookings.sittings.models import ClayPrint, Sitting

__all__ = [
    "ClayPrint",
    "Consent",
    "Enquiry",
    "Photo",
    "Sitting",
]
