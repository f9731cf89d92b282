"""The price that a family accepted, its answer, and the quote on paper; the owner's alone."""

from functools import partial

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from orders import quote_pdf as quote_pdf_module
from orders.actions import quoting
from orders.queries import order as order_queries
from orders.quote_forms import AcceptForm
from orders.views.keyed import back_to_order, get_order, order_form_page
from studio import money
from studio.http import StudioRequest, owner_only, pdf_response


@require_http_methods(["GET", "POST"])
@owner_only
def accept_quote(request: StudioRequest, reference: str) -> HttpResponse:
    order = get_order(request, reference)
    total = money.display(order_queries.sums(order).total_minor, request.unit.currency)
    return order_form_page(
        request,
        order,
        AcceptForm(request.POST or None),
        partial(quoting.accept_quote, order),
        heading=f"The family accepts {total}",
        lead="The lines are kept as they stand, and later price lists never touch this order.",
        submit="Write down that they accept",
        said="The accepted price is kept.",
    )


@require_POST
@owner_only
def note_answer(request: StudioRequest, reference: str) -> HttpResponse:
    order = get_order(request, reference)
    quoting.note_answer(order, at=timezone.now())
    return back_to_order(request, order.job, "Noted: it is off Today.")


@require_GET
@owner_only
def quote_pdf(request: StudioRequest, reference: str, pk: int) -> HttpResponse:
    quotes = request.unit.quotes.select_related("order__job", "unit")
    quote = get_object_or_404(quotes, order__job__reference=reference, pk=pk)
    name = f"order {quote.order.job.spoken_reference}.pdf"
    return pdf_response(quote_pdf_module.quote(quote), name)
