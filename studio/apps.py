from django.apps import AppConfig


class StudioConfig(AppConfig):
    name = "studio"

    def ready(self) -> None:
        from studio import checks  # noqa: F401, PLC0415 - they register themselves
        from studio.jobs import panels as jobs_panels  # noqa: F401, PLC0415 - they register themselves
