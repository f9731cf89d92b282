from django.apps import AppConfig


class ProductionConfig(AppConfig):
    name = "production"

    def ready(self) -> None:
        # They register themselves.
        from production import event_words, receivers  # noqa: F401, PLC0415
        from production.bench import gates, panels  # noqa: F401, PLC0415
        from production.casts import panels as casts_panels  # noqa: F401, PLC0415
        from production.casts import tablet  # noqa: F401, PLC0415
        from production.planning import material_needs, plan_runs, promises  # noqa: F401, PLC0415
        from production.stores import panels as stores_panels  # noqa: F401, PLC0415
        from production.weekly_sheet import work  # noqa: F401, PLC0415
