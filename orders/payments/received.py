"""Payments of one order without reversed ones."""

from typing import TYPE_CHECKING

from django.utils.translation import gettext as _

from orders.prices.vat import Received

if TYPE_CHECKING:
    from orders.order.models import Order


def money_in(order: "Order") -> int:
    """Return the money received less refunds in minor units, without payments by voucher. One
    query.
    """
    return sum(order.payments.filter(voucher=None).values_list("amount_minor", flat=True))


def received(order: "Order") -> list[Received]:
    """List payments, oldest first, without reversed ones and their reversals. No query after
    `for_page`.
    """
    payments = sorted(order.payments.all(), key=lambda row: (row.received_on, row.pk))
    reversed_pks = {row.reverses_id for row in payments}
    return [
        Received(
            row.received_on,
            row.amount_minor,
            _(row.get_method_display()),
            row.voucher.invoice_label if row.taxed_before and row.voucher else "",
        )
        for row in payments
        if row.reverses_id is None and row.pk not in reversed_pks
    ]
