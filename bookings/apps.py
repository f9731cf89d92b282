from django.apps import AppConfig


class BookingsConfig(AppConfig):
    name = "bookings"

    def ready(self) -> None:
        # They register themselves.
        from bookings import event_words  # noqa: F401, PLC0415
        from bookings.consent import gates as consent_gates  # noqa: F401, PLC0415
        from bookings.consent import panels as consent_panels  # noqa: F401, PLC0415
        from bookings.diary import panels as diary_panels  # noqa: F401, PLC0415
        from bookings.enquiries import panels as enquiries_panels  # noqa: F401, PLC0415
        from bookings.photos import panels as photos_panels  # noqa: F401, PLC0415
        from bookings.sittings import gates, panels  # noqa: F401, PLC0415
        from bookings.tablet import entries, pack  # noqa: F401, PLC0415
