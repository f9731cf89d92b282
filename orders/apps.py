from django.apps import AppConfig


class OrdersConfig(AppConfig):
    name = "orders"

    def ready(self) -> None:
        from orders import gates, panels, receivers  # noqa: F401, PLC0415 - they register themselves
