from django.urls import path

from orders.views import books, links, order, prices

app_name = "orders"

urlpatterns = [
    path("money/", books.money, name="money"),
    path("money/to-come/", books.to_come, name="to_come"),
    path("money/invoices/", books.invoices, name="invoices"),
    path("money/payments/", books.payments, name="payments"),
    path("money/prices/", prices.prices, name="prices"),
    path("money/prices/make/", prices.make_price_list, name="make_price_list"),
    path("money/prices/vat/", prices.set_vat_rate, name="set_vat_rate"),
    path("money/prices/<int:pk>/", prices.price_list, name="price_list"),
    path("money/prices/<int:pk>/add/", prices.add_price, name="add_price"),
    path("money/prices/<int:pk>/drop/", prices.drop_price_list, name="drop_price_list"),
    path("money/price/<int:pk>/change/", prices.change_price, name="change_price"),
    path("money/price/<int:pk>/drop/", prices.drop_price, name="drop_price"),
    path("invoices/<str:number>.pdf", books.invoice_pdf, name="invoice_pdf"),
    path("invoices/<str:number>/credit/", order.credit_invoice, name="credit_invoice"),
    path("jobs/<reference:reference>/order/", order.order, name="order"),
    path("jobs/<reference:reference>/order/price/", order.price_job, name="price_job"),
    path("jobs/<reference:reference>/order/price-anew/", order.price_anew, name="price_anew"),
    path("jobs/<reference:reference>/order/look/", order.choose_look, name="choose_look"),
    path("jobs/<reference:reference>/order/extra/", order.add_extra, name="add_extra"),
    path("jobs/<reference:reference>/order/reduction/", order.add_reduction, name="add_reduction"),
    path(
        "jobs/<reference:reference>/order/lines/<int:pk>/drop/", order.drop_line, name="drop_line"
    ),
    path("jobs/<reference:reference>/order/payment/", order.take_payment, name="take_payment"),
    path(
        "jobs/<reference:reference>/order/payments/<int:pk>/reverse/",
        order.reverse_payment,
        name="reverse_payment",
    ),
    path("jobs/<reference:reference>/order/pay-back/", order.pay_back, name="pay_back"),
    path("jobs/<reference:reference>/order/invoice/", order.issue_invoice, name="issue_invoice"),
    path(
        "jobs/<reference:reference>/order/release/",
        order.release_on_account,
        name="release_on_account",
    ),
    path("jobs/<reference:reference>/hand-over/", order.hand_over, name="hand_over"),
    path("jobs/<reference:reference>/call-off/", order.call_off, name="call_off"),
    path("jobs/<reference:reference>/links/make/", links.make_link, name="make_link"),
    path("links/<int:pk>/revoke/", links.revoke_link, name="revoke_link"),
]
