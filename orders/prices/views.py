"""Price lists, prices and VAT rates; for the owner only."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render, resolve_url
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from orders.prices import actions
from orders.prices.forms import BandsForm, PriceForm, PriceListForm, VatRateForm
from orders.prices.models import Price
from orders.prices.price_lists import is_used, lists_with_state, prices_by_kind
from studio.web.requests import StudioRequest, form_page, owner_only


@require_GET
@owner_only
def prices(request: StudioRequest) -> HttpResponse:
    today = timezone.localdate()
    context = {
        "lists": lists_with_state(request.unit, today),
        "rates": request.unit.vat_rates.all(),
        "today": today,
    }
    return render(request, "orders/prices/prices.html", context)


@require_GET
@owner_only
def price_list(request: StudioRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(request.unit.price_lists, pk=pk)
    context = {
        "price_list": found,
        "kinds": prices_by_kind(found),
        "used": is_used(found),
        "today": timezone.localdate(),
    }
    return render(request, "orders/prices/price_list.html", context)


@require_http_methods(["GET", "POST"])
@owner_only
def make_price_list(request: StudioRequest) -> HttpResponse:
    form = PriceListForm(request.unit, request.POST or None, today=timezone.localdate())
    return form_page(
        request,
        form,
        save=lambda: actions.make_price_list(request.unit, **form.cleaned_data),
        done=resolve_url("orders:prices"),
        said="The list is made. Open it to change its prices.",
        heading="A new price list",
        submit="Make the list",
    )


@require_http_methods(["GET", "POST"])
@owner_only
def add_price(request: StudioRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(request.unit.price_lists, pk=pk)
    form = PriceForm(request.unit.currency, request.POST or None)
    return form_page(
        request,
        form,
        save=lambda: actions.add_price(found, facts=form.cleaned_data),
        done=resolve_url("orders:price_list", found.pk),
        heading="One more price",
        submit="Add this price",
    )


@require_http_methods(["GET", "POST"])
@owner_only
def change_price(request: StudioRequest, pk: int) -> HttpResponse:
    price = _price(request, pk)
    form = PriceForm(request.unit.currency, request.POST or None, price=price)
    return form_page(
        request,
        form,
        save=lambda: actions.change_price(price, facts=form.cleaned_data),
        done=resolve_url("orders:price_list", price.price_list_id),
        heading=price.label,
        submit="Change this price",
    )


@require_http_methods(["GET", "POST"])
@owner_only
def set_bands(request: StudioRequest, pk: int) -> HttpResponse:
    price = _price(request, pk)
    form = BandsForm(request.unit.currency, request.POST or None, price=price)
    return form_page(
        request,
        form,
        save=lambda: actions.set_bands(price, bands=form.bands),
        done=resolve_url("orders:price_list", price.price_list_id),
        heading=f"{price.label}, by {'distance' if price.kind == 'delivery' else 'size'}",
        lead="Leave all steps empty for one price. Until the size is known, the price of the list counts.",
        submit="Set these steps",
    )


@require_POST
@owner_only
def drop_price(request: StudioRequest, pk: int) -> HttpResponse:
    price = _price(request, pk)
    actions.drop_price(price)
    messages.success(request, f"“{price.label}” is off the list.")
    return redirect("orders:price_list", price.price_list_id)


@require_POST
@owner_only
def drop_price_list(request: StudioRequest, pk: int) -> HttpResponse:
    actions.drop_price_list(get_object_or_404(request.unit.price_lists, pk=pk))
    messages.success(request, "The list is gone.")
    return redirect("orders:prices")


@require_http_methods(["GET", "POST"])
@owner_only
def set_vat_rate(request: StudioRequest) -> HttpResponse:
    form = VatRateForm(request.POST or None)
    return form_page(
        request,
        form,
        save=lambda: actions.set_vat_rate(request.unit, **form.cleaned_data),
        done=resolve_url("orders:prices"),
        heading="A rate of VAT",
        submit="Write it down",
    )


def _price(request: StudioRequest, pk: int) -> Price:
    prices = Price.objects.select_related("price_list")
    return get_object_or_404(prices, price_list__unit=request.unit, pk=pk)
