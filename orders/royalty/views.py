"""Royalty terms, the next return, and returns sent, which the franchisor's office reads too."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render, resolve_url
from django.utils import timezone
from django.utils.dateparse import parse_date
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from orders.royalty import actions, return_pdf
from orders.royalty.drafts import draft_return
from orders.royalty.forms import RoyaltyTermsForm
from orders.royalty.models import RoyaltyReturn
from studio.roles import Role
from studio.stages import ActionRefused
from studio.web.paging import paged
from studio.web.requests import (
    StudioRequest,
    csv_response,
    form_page,
    open_to,
    owner_only,
    pdf_response,
)


@require_GET
@owner_only
def royalty(request: StudioRequest) -> HttpResponse:
    today, draft, missing = timezone.localdate(), None, ""
    try:
        draft = draft_return(request.unit, today)
    except ActionRefused as refused:
        missing = str(refused)
    context = {
        "draft": draft,
        "missing": missing,
        "terms": request.unit.royalty_terms.all(),
        "page": paged(request, request.unit.royalty_returns.all()),
        "today": today,
    }
    return render(request, "orders/royalty/royalty.html", context)


@require_http_methods(["GET", "POST"])
@owner_only
def set_royalty_terms(request: StudioRequest) -> HttpResponse:
    last = request.unit.royalty_terms.first()
    form = RoyaltyTermsForm(request.unit.currency, request.POST or None, last=last)
    return form_page(
        request,
        form,
        save=lambda: actions.set_royalty_terms(request.unit, facts=form.facts()),
        done=resolve_url("orders:royalty"),
        heading="Royalty terms",
        lead="As your agreement with the franchisor says. It decides, not this page.",
        submit="Write them down",
    )


@require_POST
@owner_only
def send_return(request: StudioRequest) -> HttpResponse:
    last_on = parse_date(request.POST.get("last_on", ""))
    if last_on is None:
        raise ActionRefused("This page was sent without its day: reload it and press again.")
    sent = actions.send_return(request.unit, last_on=last_on, by=request.user, at=timezone.now())
    messages.success(request, "The return is sent and frozen. Send its PDF with your payment.")
    return redirect(sent)


@require_GET
@open_to(Role.OWNER, Role.OFFICE)
def royalty_return(request: StudioRequest, pk: int) -> HttpResponse:
    sent = _return(request, pk)
    return render(
        request, "orders/royalty/royalty_return.html", {"sent": sent, "paper": sent.readable}
    )


@require_GET
@open_to(Role.OFFICE)
def returns(request: StudioRequest) -> HttpResponse:
    page = paged(request, request.unit.royalty_returns.all())
    return render(request, "orders/royalty/returns.html", {"page": page})


@require_GET
@open_to(Role.OWNER, Role.OFFICE)
def royalty_return_pdf(request: StudioRequest, pk: int) -> HttpResponse:
    sent = _return(request, pk)
    return pdf_response(return_pdf.royalty_return(sent), f"royalty-{sent.last_on}.pdf")


@require_GET
@open_to(Role.OWNER, Role.OFFICE)
def royalty_return_csv(request: StudioRequest, pk: int) -> HttpResponse:
    sent = _return(request, pk)
    return csv_response(return_pdf.royalty_csv(sent), f"royalty-{sent.last_on}.csv")


def _return(request: StudioRequest, pk: int) -> RoyaltyReturn:
    return get_object_or_404(request.unit.royalty_returns, pk=pk)
