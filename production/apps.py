from django.apps import AppConfig


class ProductionConfig(AppConfig):
    name = "production"

    def ready(self) -> None:
        # They register themselves.
        from production import event_words, gates, panels, receivers, size_panel, tablet, work  # noqa: F401, PLC0415
        from production.planning import making, material_needs, promising  # noqa: F401, PLC0415
        from production.stores import panels as stores_panels  # noqa: F401, PLC0415
