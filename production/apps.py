from django.apps import AppConfig


class ProductionConfig(AppConfig):
    name = "production"

    def ready(self) -> None:
        # They register themselves.
        from production import gates, panels, receivers, tablet  # noqa: F401, PLC0415
