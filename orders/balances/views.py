"""Balances: due now, still to come, by age, and the account of a family; for the owner only."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from orders.balances import accounts, actions, reminders
from orders.balances import ageing as ageing_queries
from orders.balances import debts as balances_debts
from orders.balances.accounts import account_of
from orders.order.web import get_order
from studio.families.models import Family
from studio.web.paging import paged
from studio.web.requests import StudioRequest, client_key, owner_only, pdf_response


@require_GET
@owner_only
def ageing(request: StudioRequest) -> HttpResponse:
    today = timezone.localdate()
    found = ageing_queries.ageing(request.unit, today)
    context = {"ageing": found, "page": paged(request, found.rows), "today": today}
    return render(request, "orders/balances/ageing.html", context)


@require_GET
@owner_only
def reminder(request: StudioRequest, reference: str) -> HttpResponse:
    order = get_order(request, reference)
    context = {
        "order": order,
        "job": order.job,
        "draft": reminders.draft(order, timezone.localdate()),
    }
    return render(request, "orders/balances/reminder.html", context)


@require_POST
@owner_only
def note_reminder(request: StudioRequest, reference: str) -> HttpResponse:
    order = get_order(request, reference)
    actions.note_reminder(order, by=request.user, at=timezone.now(), key=client_key(request))
    messages.success(request, "It is written down that you reminded them.")
    return redirect("orders:ageing")


@require_GET
@owner_only
def account(request: StudioRequest, pk: int) -> HttpResponse:
    found = account_of(_family(request, pk))
    return render(
        request, "orders/balances/account.html", {"account": found, "today": timezone.localdate()}
    )


@require_GET
@owner_only
def account_pdf(request: StudioRequest, pk: int) -> HttpResponse:
    found = account_of(_family(request, pk))
    pdf = accounts.account_pdf(found, request.unit, timezone.localdate())
    return pdf_response(pdf, f"statement-{found.family.pk}.pdf")


def _family(request: StudioRequest, pk: int) -> Family:
    return get_object_or_404(request.unit.families.select_related("unit"), pk=pk)


@require_GET
@owner_only
def money(request: StudioRequest) -> HttpResponse:
    today = timezone.localdate()
    debts = balances_debts.owed(request.unit, today)
    context = {
        "page": paged(request, debts),
        "asked_minor": balances_debts.asked_minor(debts),
        "takings": balances_debts.takings(request.unit, today),
        "today": today,
    }
    return render(request, "orders/balances/money.html", context)


@require_GET
@owner_only
def to_come(request: StudioRequest) -> HttpResponse:
    today = timezone.localdate()
    page = paged(request, balances_debts.to_come(request.unit, today))
    return render(request, "orders/balances/to_come.html", {"page": page, "today": today})
