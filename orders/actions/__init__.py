"""What people do to prices, orders, payments and invoices: one function and one transaction each."""

from orders.actions.ending import call_off, hand_over
from orders.actions.invoicing import credit_invoice, issue_invoice
from orders.actions.paying import pay_back, release_on_account, reverse_payment, take_payment
from orders.actions.prices import (
    add_price,
    change_price,
    drop_price,
    drop_price_list,
    make_price_list,
    set_vat_rate,
)
from orders.actions.pricing import (
    add_extra,
    add_reduction,
    choose_look,
    drop_line,
    price_anew,
    price_job,
)
from orders.links import make_link, revoke_link

__all__ = [
    "add_extra",
    "add_price",
    "add_reduction",
    "call_off",
    "change_price",
    "choose_look",
    "credit_invoice",
    "drop_line",
    "drop_price",
    "drop_price_list",
    "hand_over",
    "issue_invoice",
    "make_link",
    "make_price_list",
    "pay_back",
    "price_anew",
    "price_job",
    "release_on_account",
    "reverse_payment",
    "revoke_link",
    "set_vat_rate",
    "take_payment",
]
