from django.apps import AppConfig


class ProductionConfig(AppConfig):
    name = "production"

    def ready(self) -> None:
        from production import gates, panels  # noqa: F401, PLC0415 - they register themselves
