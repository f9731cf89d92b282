"""What families owe: now, still to come, by age, and on one family's account; the owner's alone."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from orders import reminding
from orders.actions import reminding as reminding_actions
from orders.queries import accounts, owed
from orders.queries import ageing as ageing_queries
from orders.queries.accounts import account_of
from orders.views.keyed import get_order
from orders.views.pages import paged
from studio.http import StudioRequest, client_key, owner_only, pdf_response
from studio.models import Family


@require_GET
@owner_only
def ageing(request: StudioRequest) -> HttpResponse:
    today = timezone.localdate()
    found = ageing_queries.ageing(request.unit, today)
    context = {"ageing": found, "page": paged(request, found.rows), "today": today}
    return render(request, "orders/ageing.html", context)


@require_GET
@owner_only
def reminder(request: StudioRequest, reference: str) -> HttpResponse:
    order = get_order(request, reference)
    context = {
        "order": order,
        "job": order.job,
        "draft": reminding.draft(order, timezone.localdate()),
    }
    return render(request, "orders/reminder.html", context)


@require_POST
@owner_only
def note_reminder(request: StudioRequest, reference: str) -> HttpResponse:
    order = get_order(request, reference)
    reminding_actions.note_reminder(
        order, by=request.user, at=timezone.now(), key=client_key(request)
    )
    messages.success(request, "It is written down that you reminded them.")
    return redirect("orders:ageing")


@require_GET
@owner_only
def account(request: StudioRequest, pk: int) -> HttpResponse:
    found = account_of(_family(request, pk))
    return render(request, "orders/account.html", {"account": found, "today": timezone.localdate()})


@require_GET
@owner_only
def account_pdf(request: StudioRequest, pk: int) -> HttpResponse:
    found = account_of(_family(request, pk))
    written = accounts.account_pdf(found, request.unit, timezone.localdate())
    return pdf_response(written, f"statement-{found.family.pk}.pdf")


def _family(request: StudioRequest, pk: int) -> Family:
    return get_object_or_404(request.unit.families.select_related("unit"), pk=pk)


@require_GET
@owner_only
def money(request: StudioRequest) -> HttpResponse:
    today = timezone.localdate()
    debts = owed.owed(request.unit, today)
    context = {
        "page": paged(request, debts),
        "asked_minor": owed.asked_minor(debts),
        "takings": owed.takings(request.unit, today),
        "today": today,
    }
    return render(request, "orders/money.html", context)


@require_GET
@owner_only
def to_come(request: StudioRequest) -> HttpResponse:
    today = timezone.localdate()
    page = paged(request, owed.to_come(request.unit, today))
    return render(request, "orders/to_come.html", {"page": page, "today": today})
