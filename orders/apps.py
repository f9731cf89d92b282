from django.apps import AppConfig


class OrdersConfig(AppConfig):
    name = "orders"

    def ready(self) -> None:
        # They register themselves.
        from orders import event_words  # noqa: F401, PLC0415
        from orders.balances import panels as balances_panels  # noqa: F401, PLC0415
        from orders.bank import work as bank_work  # noqa: F401, PLC0415
        from orders.books import panels as books_panels  # noqa: F401, PLC0415
        from orders.family_page import panels as family_page_panels  # noqa: F401, PLC0415
        from orders.invoices import batch  # noqa: F401, PLC0415
        from orders.order import receivers  # noqa: F401, PLC0415
        from orders.order_page import panels as order_page_panels  # noqa: F401, PLC0415
        from orders.payments import gates, tablet, tablet_pack  # noqa: F401, PLC0415
        from orders.quotes import panels as quotes_panels  # noqa: F401, PLC0415
