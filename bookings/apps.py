from django.apps import AppConfig


class BookingsConfig(AppConfig):
    name = "bookings"

    def ready(self) -> None:
        # They register themselves.
        from bookings import event_words  # noqa: F401, PLC0415
        from bookings.tablet import entries  # noqa: F401, PLC0415
