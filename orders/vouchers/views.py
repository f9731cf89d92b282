"""Vouchers: sell, print, use and cancel them; for the owner only."""

from functools import partial

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render, resolve_url
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from orders.vouchers import actions, voucher_pdf
from orders.vouchers.balances import left_on, liability
from orders.vouchers.forms import UseVoucherForm, VoucherForm
from orders.vouchers.models import Voucher
from studio.jobs.forms import WhyForm
from studio.web.paging import paged
from studio.web.requests import StudioRequest, form_page, owner_only, pdf_response


@require_GET
@owner_only
def vouchers(request: StudioRequest) -> HttpResponse:
    today = timezone.localdate()
    context = {
        "page": paged(request, request.unit.vouchers.with_left()),
        "liability": liability(request.unit, today),
        "today": today,
    }
    return render(request, "orders/vouchers/vouchers.html", context)


@require_GET
@owner_only
def voucher(request: StudioRequest, code: str) -> HttpResponse:
    found = _voucher(request, code)
    context = {
        "voucher": found,
        "left_minor": left_on(found),
        "payments": found.payments.with_people().newest_first(),
        "today": timezone.localdate(),
    }
    return render(request, "orders/vouchers/voucher.html", context)


@require_http_methods(["GET", "POST"])
@owner_only
def sell_voucher(request: StudioRequest) -> HttpResponse:
    now = timezone.now()
    form = VoucherForm(request.unit, request.POST or None, today=timezone.localdate(now))
    return form_page(
        request,
        form,
        save=lambda: actions.sell_voucher(
            request.unit,
            facts=form.facts(),
            by=request.user,
            at=now,
            key=form.cleaned_data["key"],
        ),
        done=resolve_url("orders:vouchers"),
        said="The voucher is sold: print its card.",
        heading="Sell a voucher",
        submit="Sell it",
    )


@require_http_methods(["GET", "POST"])
@owner_only
def cancel_voucher(request: StudioRequest, code: str) -> HttpResponse:
    found = _voucher(request, code)
    form = WhyForm(request.POST or None)
    return form_page(
        request,
        form,
        save=lambda: actions.cancel_voucher(
            found, why=form.cleaned_data["why"], by=request.user, at=timezone.now()
        ),
        done=found.get_absolute_url(),
        said="The voucher is cancelled: give its price back.",
        heading=f"Cancel voucher {found.display_code}",
        submit="Cancel it and pay back",
        variant="danger",
    )


@require_http_methods(["GET", "POST"])
@owner_only
def pay_by_voucher(request: StudioRequest, reference: str) -> HttpResponse:
    job = get_object_or_404(request.unit.jobs.select_related("family"), reference=reference)
    order = get_object_or_404(request.unit.orders, job=job)
    form = UseVoucherForm(request.unit.currency, request.POST or None)
    return form_page(
        request,
        form,
        save=lambda: partial(actions.pay_by_voucher, order)(
            **form.cleaned_data, by=request.user, at=timezone.now()
        ),
        done=resolve_url("orders:order", reference),
        said="Paid by voucher.",
        heading="Pay by voucher",
        over=f"{job.display_reference} · {job.family.name}",
        submit="Use the voucher",
    )


@require_GET
@owner_only
def voucher_card(request: StudioRequest, code: str) -> HttpResponse:
    found = _voucher(request, code)
    return pdf_response(voucher_pdf.voucher_card(found), f"{found.display_code}.pdf")


def _voucher(request: StudioRequest, code: str) -> Voucher:
    return get_object_or_404(request.unit.vouchers, code=code)
