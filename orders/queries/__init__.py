"""Reads of prices, orders, invoices and payments."""

from orders.queries.lists import ListState, is_used, kinds_on, lists_with_state, prices_by_kind
from orders.queries.order import (
    BEFORE_FRAMING,
    Choices,
    Sums,
    balance_of,
    can_choose,
    choices,
    deposit_of,
    order_of,
    prices_every_piece,
    received,
    standing_invoice,
    sums,
)
from orders.queries.owed import Debt, Deposit, Takings, deposits_before, owed, takings, to_come
from orders.queries.rows import (
    InvoiceQuerySet,
    OrderQuerySet,
    ParentLinkQuerySet,
    PaymentQuerySet,
    PriceListQuerySet,
)

__all__ = [
    "BEFORE_FRAMING",
    "Choices",
    "Debt",
    "Deposit",
    "InvoiceQuerySet",
    "ListState",
    "OrderQuerySet",
    "ParentLinkQuerySet",
    "PaymentQuerySet",
    "PriceListQuerySet",
    "Sums",
    "Takings",
    "balance_of",
    "can_choose",
    "choices",
    "deposit_of",
    "deposits_before",
    "is_used",
    "kinds_on",
    "lists_with_state",
    "order_of",
    "owed",
    "prices_by_kind",
    "prices_every_piece",
    "received",
    "standing_invoice",
    "sums",
    "takings",
    "to_come",
]
