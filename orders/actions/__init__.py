"""What people do to prices, orders, payments and invoices: one function and one transaction each."""

from orders.actions.banking import (
    drop_statement,
    post_line,
    put_line_back,
    read_statement,
    say_columns,
    set_aside_line,
    take_statement,
)
from orders.actions.ending import call_off, hand_over
from orders.actions.invoicing import credit_invoice, credit_part, issue_invoice
from orders.actions.keeping import PaperSpoiled, give_receipt, keep_pdf
from orders.actions.margins import set_work_rates, write_effort
from orders.actions.paying import pay_back, release_on_account, reverse_payment, take_payment
from orders.actions.prices import (
    add_price,
    change_price,
    drop_price,
    drop_price_list,
    make_price_list,
    set_bands,
    set_vat_rate,
    set_vat_threshold,
)
from orders.actions.pricing import (
    add_delivery,
    add_discount,
    add_extra,
    add_reduction,
    choose_look,
    drop_line,
    price_anew,
    price_job,
    size_frame,
)
from orders.actions.quoting import accept_quote, decline_quote, note_answer
from orders.actions.reminding import note_reminder
from orders.actions.royalties import send_return, set_royalty_terms
from orders.actions.vouchers import cancel_voucher, pay_by_voucher, sell_voucher
from orders.links import make_link, revoke_link

__all__ = [
    "PaperSpoiled",
    "accept_quote",
    "add_delivery",
    "add_discount",
    "add_extra",
    "add_price",
    "add_reduction",
    "call_off",
    "cancel_voucher",
    "change_price",
    "choose_look",
    "credit_invoice",
    "credit_part",
    "decline_quote",
    "drop_line",
    "drop_price",
    "drop_price_list",
    "drop_statement",
    "give_receipt",
    "hand_over",
    "issue_invoice",
    "keep_pdf",
    "make_link",
    "make_price_list",
    "note_answer",
    "note_reminder",
    "pay_back",
    "pay_by_voucher",
    "post_line",
    "price_anew",
    "price_job",
    "put_line_back",
    "read_statement",
    "release_on_account",
    "reverse_payment",
    "revoke_link",
    "say_columns",
    "sell_voucher",
    "send_return",
    "set_aside_line",
    "set_bands",
    "set_royalty_terms",
    "set_vat_rate",
    "set_vat_threshold",
    "set_work_rates",
    "size_frame",
    "take_payment",
    "take_statement",
    "write_effort",
]
