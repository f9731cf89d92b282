from django.apps import AppConfig


class BookingsConfig(AppConfig):
    name = "bookings"

    def ready(self) -> None:
        # They register themselves.
        from bookings import event_words, gates, panels, tablet, today  # noqa: F401, PLC0415
