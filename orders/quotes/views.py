"""Accepted prices, the family's answer, and the quote as PDF; for the owner only."""

from functools import partial

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from orders.order import totals
from orders.order.web import back_to_order, get_order, order_form_page
from orders.quotes import actions
from orders.quotes import quote_pdf as quote_pdf_module
from orders.quotes.forms import AcceptForm
from studio import money
from studio.web.requests import StudioRequest, owner_only, pdf_response


@require_http_methods(["GET", "POST"])
@owner_only
def accept_quote(request: StudioRequest, reference: str) -> HttpResponse:
    order = get_order(request, reference)
    total = money.display(totals.sums(order).total_minor, request.unit.currency)
    return order_form_page(
        request,
        order,
        AcceptForm(request.POST or None),
        partial(actions.accept_quote, order),
        heading=f"The family accepts {total}",
        lead="The lines are kept as they stand, and later price lists never touch this order.",
        submit="Write down that they accept",
        said="The accepted price is kept.",
    )


@require_POST
@owner_only
def note_answer(request: StudioRequest, reference: str) -> HttpResponse:
    order = get_order(request, reference)
    actions.note_answer(order, at=timezone.now())
    return back_to_order(request, order.job, "Noted: it is off Today.")


@require_GET
@owner_only
def quote_pdf(request: StudioRequest, reference: str, pk: int) -> HttpResponse:
    quotes = request.unit.quotes.select_related("order__job", "unit")
    quote = get_object_or_404(quotes, order__job__reference=reference, pk=pk)
    name = f"order {quote.order.job.display_reference}.pdf"
    return pdf_response(quote_pdf_module.quote(quote), name)
