from django.apps import AppConfig


class StudioConfig(AppConfig):
    name = "studio"

    def ready(self) -> None:
        from studio import checks, today  # noqa: F401, PLC0415 - they register themselves
