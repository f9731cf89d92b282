from django.apps import AppConfig


class OrdersConfig(AppConfig):
    name = "orders"

    def ready(self) -> None:
        from orders import (  # noqa: PLC0415 - they register themselves
            answer_panels,  # noqa: F401
            balance_panels,  # noqa: F401
            bank_work,  # noqa: F401
            event_words,  # noqa: F401
            follow_panels,  # noqa: F401
            gates,  # noqa: F401
            panels,  # noqa: F401
            receivers,  # noqa: F401
            tablet,  # noqa: F401
            turnover_panels,  # noqa: F401
            work,  # noqa: F401
        )
