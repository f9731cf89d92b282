"""Read-only admin of enquiries, sittings, prints, consents and photographs."""

from django.contrib import admin

from bookings.consent.models import Consent
from bookings.enquiries.models import Enquiry
from bookings.photos.models import Photo
from bookings.sittings.models import ClayPrint, Sitting
from studio.admin import ReadOnlyAdmin


@admin.register(Enquiry)
class EnquiryAdmin(ReadOnlyAdmin):
    list_display = ("name", "unit", "received_at", "source", "answer")
    list_filter = ("answer", "source")
    list_select_related = ("unit",)
    search_fields = ("name", "phone", "email", "postcode")


@admin.register(Sitting)
class SittingAdmin(ReadOnlyAdmin):
    list_display = ("job", "unit", "starts_at", "place", "state")
    list_filter = ("state", "place")
    list_select_related = ("job", "unit")
    date_hierarchy = "starts_at"


@admin.register(ClayPrint)
class ClayPrintAdmin(ReadOnlyAdmin):
    list_display = ("piece", "sitting", "outcome", "live", "tries", "tray")
    list_filter = ("outcome", "live")
    list_select_related = ("piece__child", "sitting__job")


@admin.register(Consent)
class ConsentAdmin(ReadOnlyAdmin):
    list_display = ("family", "purpose", "wording_version", "given_at", "withdrawn_at")
    list_filter = ("purpose",)
    list_select_related = ("family",)


@admin.register(Photo)
class PhotoAdmin(ReadOnlyAdmin):
    """Without the pictures: only the studio's own page shows them, while consent is in force."""

    list_display = ("job", "unit", "kind", "taken_at", "width_px", "height_px")
    list_select_related = ("job", "unit")
    exclude = ("file", "view", "thumb", "public_id")
