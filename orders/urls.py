from django.urls import path

from orders.views import (
    accounts,
    balances,
    banking,
    invoices,
    links,
    margins,
    order,
    order_lines,
    payments,
    prices,
    quotes,
    receipts,
    returns,
    vouchers,
)

app_name = "orders"

urlpatterns = [
    # Prices
    path("money/prices/", prices.prices, name="prices"),
    path("money/prices/make/", prices.make_price_list, name="make_price_list"),
    path("money/prices/vat/", prices.set_vat_rate, name="set_vat_rate"),
    path("money/prices/<int:pk>/", prices.price_list, name="price_list"),
    path("money/prices/<int:pk>/add/", prices.add_price, name="add_price"),
    path("money/prices/<int:pk>/drop/", prices.drop_price_list, name="drop_price_list"),
    path("money/price/<int:pk>/change/", prices.change_price, name="change_price"),
    path("money/price/<int:pk>/steps/", prices.set_bands, name="set_bands"),
    path("money/price/<int:pk>/drop/", prices.drop_price, name="drop_price"),
    # The lines of an order
    path("jobs/<reference:reference>/order/price/", order_lines.price_job, name="price_job"),
    path("jobs/<reference:reference>/order/price-anew/", order_lines.price_anew, name="price_anew"),
    path("jobs/<reference:reference>/order/look/", order_lines.choose_look, name="choose_look"),
    path("jobs/<reference:reference>/order/extra/", order_lines.add_extra, name="add_extra"),
    path(
        "jobs/<reference:reference>/order/delivery/", order_lines.add_delivery, name="add_delivery"
    ),
    path(
        "jobs/<reference:reference>/order/discount/", order_lines.add_discount, name="add_discount"
    ),
    path(
        "jobs/<reference:reference>/order/reduction/",
        order_lines.add_reduction,
        name="add_reduction",
    ),
    path(
        "jobs/<reference:reference>/order/lines/<int:pk>/drop/",
        order_lines.drop_line,
        name="drop_line",
    ),
    # Quotes
    path("jobs/<reference:reference>/order/accept/", quotes.accept_quote, name="accept_quote"),
    path("jobs/<reference:reference>/order/noted/", quotes.note_answer, name="note_answer"),
    path(
        "jobs/<reference:reference>/order/quotes/<int:pk>.pdf",
        quotes.quote_pdf,
        name="quote_pdf",
    ),
    # Payments
    path("money/payments/", payments.payments, name="payments"),
    path("jobs/<reference:reference>/order/payment/", payments.take_payment, name="take_payment"),
    path(
        "jobs/<reference:reference>/order/payments/<int:pk>/reverse/",
        payments.reverse_payment,
        name="reverse_payment",
    ),
    path("jobs/<reference:reference>/order/pay-back/", payments.pay_back, name="pay_back"),
    path(
        "jobs/<reference:reference>/order/release/",
        payments.release_on_account,
        name="release_on_account",
    ),
    # Vouchers
    path("money/vouchers/", vouchers.vouchers, name="vouchers"),
    path("money/vouchers/sell/", vouchers.sell_voucher, name="sell_voucher"),
    path("money/vouchers/<str:code>/", vouchers.voucher, name="voucher"),
    path("money/vouchers/<str:code>/cancel/", vouchers.cancel_voucher, name="cancel_voucher"),
    path("money/vouchers/<str:code>/card.pdf", vouchers.voucher_card, name="voucher_card"),
    path(
        "jobs/<reference:reference>/order/voucher/", vouchers.pay_by_voucher, name="pay_by_voucher"
    ),
    # Invoices
    path("money/invoices/", invoices.invoices, name="invoices"),
    path("money/invoices/batch/", invoices.issue_batch, name="issue_batch"),
    path("invoices/<str:number>.pdf", invoices.invoice_pdf, name="invoice_pdf"),
    path("invoices/<str:number>/credit/", invoices.credit_invoice, name="credit_invoice"),
    path("invoices/<str:number>/credit-part/", invoices.credit_part, name="credit_part"),
    path("jobs/<reference:reference>/order/invoice/", invoices.issue_invoice, name="issue_invoice"),
    # Receipts
    path(
        "jobs/<reference:reference>/order/payments/<int:pk>/receipt/",
        receipts.give_receipt,
        name="give_receipt",
    ),
    path("receipts/<str:number>.pdf", receipts.receipt_pdf, name="receipt_pdf"),
    # Balances
    path("money/", balances.money, name="money"),
    path("money/to-come/", balances.to_come, name="to_come"),
    path("money/ageing/", balances.ageing, name="ageing"),
    path("families/<int:pk>/account/", balances.account, name="account"),
    path("families/<int:pk>/account.pdf", balances.account_pdf, name="account_pdf"),
    path("jobs/<reference:reference>/order/reminder/", balances.reminder, name="reminder"),
    path(
        "jobs/<reference:reference>/order/reminder/note/",
        balances.note_reminder,
        name="note_reminder",
    ),
    # Bank
    path("money/bank/", banking.bank, name="bank"),
    path("money/bank/take/", banking.take_statement, name="take_statement"),
    path("money/bank/<int:pk>/", banking.statement, name="statement"),
    path("money/bank/<int:pk>/columns/", banking.say_columns, name="say_columns"),
    path("money/bank/<int:pk>/drop/", banking.drop_statement, name="drop_statement"),
    path("money/bank/lines/<int:pk>/post/", banking.post_line, name="post_line"),
    path("money/bank/lines/<int:pk>/aside/", banking.set_aside_line, name="set_aside_line"),
    path("money/bank/lines/<int:pk>/back/", banking.put_line_back, name="put_line_back"),
    # Costs
    path("money/earned/", margins.earnings, name="earnings"),
    path("money/earned/rates/", margins.set_work_rates, name="set_work_rates"),
    path("jobs/<reference:reference>/order/effort/", margins.write_effort, name="write_effort"),
    # Royalty
    path("money/royalty/", returns.royalty, name="royalty"),
    path("money/royalty/terms/", returns.set_royalty_terms, name="set_royalty_terms"),
    path("money/royalty/send/", returns.send_return, name="send_return"),
    path("returns/", returns.returns, name="returns"),
    path("returns/<int:pk>/", returns.royalty_return, name="royalty_return"),
    path("returns/<int:pk>.pdf", returns.royalty_return_pdf, name="royalty_return_pdf"),
    path("returns/<int:pk>.csv", returns.royalty_return_csv, name="royalty_return_csv"),
    # Books
    path("money/turnover/", accounts.turnover, name="turnover"),
    path("money/turnover/threshold/", accounts.set_vat_threshold, name="set_vat_threshold"),
    path("money/books/", accounts.day_book, name="day_book"),
    path("money/books/<int:year>/", accounts.day_book_of, name="day_book_of"),
    path("money/books/<int:year>.csv", accounts.day_book_csv, name="day_book_csv"),
    path("money/books/<int:year>.json", accounts.day_book_json, name="day_book_json"),
    path("money/law/", accounts.consumer_law, name="consumer_law"),
    # The order page
    path("jobs/<reference:reference>/order/", order.order, name="order"),
    path(
        "jobs/<reference:reference>/order/confirmation.pdf",
        order.confirmation,
        name="confirmation",
    ),
    path("jobs/<reference:reference>/hand-over/", order.hand_over, name="hand_over"),
    path("jobs/<reference:reference>/call-off/", order.call_off, name="call_off"),
    # Family page, the studio's side
    path("jobs/<reference:reference>/links/make/", links.make_link, name="make_link"),
    path("links/<int:pk>/revoke/", links.revoke_link, name="revoke_link"),
]
