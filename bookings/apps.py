from django.apps import AppConfig


class BookingsConfig(AppConfig):
    name = "bookings"

    def ready(self) -> None:
        from bookings import gates, panels, tablet, today  # noqa: F401, PLC0415 - they register themselves
