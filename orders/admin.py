"""Read-only admin pages of the books; only the site's own actions write them."""

from typing import Any

from django.contrib import admin
from django.db.models import Model
from django.http import HttpRequest

from orders.invoices.models import Invoice, NumberSeries
from orders.order.models import Order, OrderLine
from orders.payments.models import Payment
from orders.prices.models import Price, PriceList, VatRate
from orders.quotes.models import FamilyAnswer, Quote
from orders.vouchers.models import Voucher


class ReadOnlyAdmin(admin.ModelAdmin[Any]):
    """A model to look up in the admin: no adding, changing or deleting."""

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return False


class ReadOnlyInline(admin.TabularInline[Any, Any]):
    extra = 0
    can_delete = False

    def has_add_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return False


class PriceInline(ReadOnlyInline):
    model = Price


class LineInline(ReadOnlyInline):
    model = OrderLine


@admin.register(PriceList)
class PriceListAdmin(ReadOnlyAdmin):
    list_display = ["unit", "valid_from"]
    list_filter = ["unit"]
    inlines = [PriceInline]


@admin.register(VatRate)
class VatRateAdmin(ReadOnlyAdmin):
    list_display = ["unit", "valid_from", "percent"]


@admin.register(Order)
class OrderAdmin(ReadOnlyAdmin):
    list_display = ["job", "unit", "price_list", "settled", "released_at"]
    list_filter = ["settled"]
    list_select_related = ["job", "unit", "price_list"]
    search_fields = ["job__reference", "job__family__name"]
    inlines = [LineInline]


@admin.register(Invoice)
class InvoiceAdmin(ReadOnlyAdmin):
    list_display = ["number", "unit", "kind", "issued_on", "total_minor", "vat_minor"]
    list_filter = ["kind"]
    list_select_related = ["unit"]
    search_fields = ["number", "order__job__reference"]


@admin.register(Quote)
class QuoteAdmin(ReadOnlyAdmin):
    list_display = ["order", "accepted_at", "method", "total_minor"]
    list_filter = ["method"]
    list_select_related = ["order__job"]
    search_fields = ["order__job__reference"]


@admin.register(FamilyAnswer)
class FamilyAnswerAdmin(ReadOnlyAdmin):
    list_display = ["order", "answered_at", "said_yes", "total_minor", "words", "noted_at"]
    list_select_related = ["order__job"]
    search_fields = ["order__job__reference"]


@admin.register(Voucher)
class VoucherAdmin(ReadOnlyAdmin):
    list_display = ["code", "unit", "sold_on", "value_minor", "price_minor", "taxed_when_sold"]
    list_filter = ["taxed_when_sold"]
    list_select_related = ["unit"]
    search_fields = ["code", "buyer"]


@admin.register(Payment)
class PaymentAdmin(ReadOnlyAdmin):
    list_display = ["received_on", "order", "amount_minor", "method", "why"]
    list_filter = ["method"]
    list_select_related = ["order__job"]
    search_fields = ["order__job__reference"]


@admin.register(NumberSeries)
class NumberSeriesAdmin(ReadOnlyAdmin):
    """Add a series before its first paper, so that numbering continues from earlier books."""

    list_display = ["unit", "prefix", "last"]
    fields = ["unit", "prefix", "last"]

    def has_add_permission(self, request: HttpRequest) -> bool:
        return True
