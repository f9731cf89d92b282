from django.urls import path

from orders.balances import views as balances_views
from orders.bank import views as bank_views
from orders.books import views as books_views
from orders.costs import views as costs_views
from orders.family_page import staff_views
from orders.invoices import views as invoices_views
from orders.order import views as order_views
from orders.order_page import views as order_page_views
from orders.payments import views as payments_views
from orders.prices import views as prices_views
from orders.quotes import views as quotes_views
from orders.receipts import views as receipts_views
from orders.royalty import views as royalty_views
from orders.vouchers import views as vouchers_views

app_name = "orders"

urlpatterns = [
    # Prices
    path("money/prices/", prices_views.prices, name="prices"),
    path("money/prices/make/", prices_views.make_price_list, name="make_price_list"),
    path("money/prices/vat/", prices_views.set_vat_rate, name="set_vat_rate"),
    path("money/prices/<int:pk>/", prices_views.price_list, name="price_list"),
    path("money/prices/<int:pk>/add/", prices_views.add_price, name="add_price"),
    path("money/prices/<int:pk>/drop/", prices_views.drop_price_list, name="drop_price_list"),
    path("money/price/<int:pk>/change/", prices_views.change_price, name="change_price"),
    path("money/price/<int:pk>/steps/", prices_views.set_bands, name="set_bands"),
    path("money/price/<int:pk>/drop/", prices_views.drop_price, name="drop_price"),
    # The lines of an order
    path("jobs/<reference:reference>/order/price/", order_views.price_job, name="price_job"),
    path("jobs/<reference:reference>/order/reprice/", order_views.reprice, name="reprice"),
    path("jobs/<reference:reference>/order/look/", order_views.choose_look, name="choose_look"),
    path("jobs/<reference:reference>/order/extra/", order_views.add_extra, name="add_extra"),
    path(
        "jobs/<reference:reference>/order/delivery/", order_views.add_delivery, name="add_delivery"
    ),
    path(
        "jobs/<reference:reference>/order/discount/", order_views.add_discount, name="add_discount"
    ),
    path(
        "jobs/<reference:reference>/order/reduction/",
        order_views.add_reduction,
        name="add_reduction",
    ),
    path(
        "jobs/<reference:reference>/order/lines/<int:pk>/drop/",
        order_views.drop_line,
        name="drop_line",
    ),
    # Quotes
    path(
        "jobs/<reference:reference>/order/accept/", quotes_views.accept_quote, name="accept_quote"
    ),
    path("jobs/<reference:reference>/order/noted/", quotes_views.note_answer, name="note_answer"),
    path(
        "jobs/<reference:reference>/order/quotes/<int:pk>.pdf",
        quotes_views.quote_pdf,
        name="quote_pdf",
    ),
    # Payments
    path("money/payments/", payments_views.payments, name="payments"),
    path(
        "jobs/<reference:reference>/order/payment/",
        payments_views.take_payment,
        name="take_payment",
    ),
    path(
        "jobs/<reference:reference>/order/payments/<int:pk>/reverse/",
        payments_views.reverse_payment,
        name="reverse_payment",
    ),
    path("jobs/<reference:reference>/order/pay-back/", payments_views.pay_back, name="pay_back"),
    path(
        "jobs/<reference:reference>/order/release/",
        payments_views.release_on_account,
        name="release_on_account",
    ),
    # Vouchers
    path("money/vouchers/", vouchers_views.vouchers, name="vouchers"),
    path("money/vouchers/sell/", vouchers_views.sell_voucher, name="sell_voucher"),
    path("money/vouchers/<str:code>/", vouchers_views.voucher, name="voucher"),
    path("money/vouchers/<str:code>/cancel/", vouchers_views.cancel_voucher, name="cancel_voucher"),
    path("money/vouchers/<str:code>/card.pdf", vouchers_views.voucher_card, name="voucher_card"),
    path(
        "jobs/<reference:reference>/order/voucher/",
        vouchers_views.pay_by_voucher,
        name="pay_by_voucher",
    ),
    # Invoices
    path("money/invoices/", invoices_views.invoices, name="invoices"),
    path("money/invoices/batch/", invoices_views.issue_batch, name="issue_batch"),
    path("invoices/<str:number>.pdf", invoices_views.invoice_pdf, name="invoice_pdf"),
    path("invoices/<str:number>/credit/", invoices_views.credit_invoice, name="credit_invoice"),
    path("invoices/<str:number>/credit-part/", invoices_views.credit_part, name="credit_part"),
    path(
        "jobs/<reference:reference>/order/invoice/",
        invoices_views.issue_invoice,
        name="issue_invoice",
    ),
    # Receipts
    path(
        "jobs/<reference:reference>/order/payments/<int:pk>/receipt/",
        receipts_views.give_receipt,
        name="give_receipt",
    ),
    path("receipts/<str:number>.pdf", receipts_views.receipt_pdf, name="receipt_pdf"),
    # Balances
    path("money/", balances_views.money, name="money"),
    path("money/to-come/", balances_views.to_come, name="to_come"),
    path("money/ageing/", balances_views.ageing, name="ageing"),
    path("families/<int:pk>/account/", balances_views.account, name="account"),
    path("families/<int:pk>/account.pdf", balances_views.account_pdf, name="account_pdf"),
    path("jobs/<reference:reference>/order/reminder/", balances_views.reminder, name="reminder"),
    path(
        "jobs/<reference:reference>/order/reminder/note/",
        balances_views.note_reminder,
        name="note_reminder",
    ),
    # Bank
    path("money/bank/", bank_views.bank, name="bank"),
    path("money/bank/take/", bank_views.take_statement, name="take_statement"),
    path("money/bank/<int:pk>/", bank_views.statement, name="statement"),
    path("money/bank/<int:pk>/columns/", bank_views.set_columns, name="set_columns"),
    path("money/bank/<int:pk>/drop/", bank_views.drop_statement, name="drop_statement"),
    path("money/bank/lines/<int:pk>/post/", bank_views.post_line, name="post_line"),
    path("money/bank/lines/<int:pk>/aside/", bank_views.set_aside_line, name="set_aside_line"),
    path("money/bank/lines/<int:pk>/back/", bank_views.put_line_back, name="put_line_back"),
    # Costs
    path("money/earned/", costs_views.earnings, name="earnings"),
    path("money/earned/rates/", costs_views.set_work_rates, name="set_work_rates"),
    path("jobs/<reference:reference>/order/effort/", costs_views.write_effort, name="write_effort"),
    # Royalty
    path("money/royalty/", royalty_views.royalty, name="royalty"),
    path("money/royalty/terms/", royalty_views.set_royalty_terms, name="set_royalty_terms"),
    path("money/royalty/send/", royalty_views.send_return, name="send_return"),
    path("returns/", royalty_views.returns, name="returns"),
    path("returns/<int:pk>/", royalty_views.royalty_return, name="royalty_return"),
    path("returns/<int:pk>.pdf", royalty_views.royalty_return_pdf, name="royalty_return_pdf"),
    path("returns/<int:pk>.csv", royalty_views.royalty_return_csv, name="royalty_return_csv"),
    # Books
    path("money/turnover/", books_views.turnover, name="turnover"),
    path("money/turnover/threshold/", books_views.set_vat_threshold, name="set_vat_threshold"),
    path("money/books/", books_views.day_book, name="day_book"),
    path("money/books/<int:year>/", books_views.day_book_of, name="day_book_of"),
    path("money/books/<int:year>.csv", books_views.day_book_csv, name="day_book_csv"),
    path("money/books/<int:year>.json", books_views.day_book_json, name="day_book_json"),
    path("money/law/", books_views.consumer_law, name="consumer_law"),
    # The order page
    path("jobs/<reference:reference>/order/", order_page_views.order, name="order"),
    path(
        "jobs/<reference:reference>/order/confirmation.pdf",
        order_page_views.confirmation,
        name="confirmation",
    ),
    path("jobs/<reference:reference>/hand-over/", order_page_views.hand_over, name="hand_over"),
    path("jobs/<reference:reference>/call-off/", order_page_views.call_off, name="call_off"),
    # Family page, the studio's side
    path("jobs/<reference:reference>/links/make/", staff_views.make_link, name="make_link"),
    path("links/<int:pk>/revoke/", staff_views.revoke_link, name="revoke_link"),
]
