"""For the accountant: the day book of a tax year, and its tables to take away; the owner's alone."""

from datetime import date
from typing import Any

from django.http import Http404, HttpResponse, JsonResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from orders import exports, queries
from orders.ledger import tax_year
from orders.views.pages import paged
from studio.http import StudioRequest, csv_response, owner_only


@require_GET
@owner_only
def day_book(request: StudioRequest) -> HttpResponse:
    today = timezone.localdate()
    first_on, last_on = tax_year(today)
    return _page(request, queries.day_book(request.unit, first_on, last_on))


@require_GET
@owner_only
def day_book_of(request: StudioRequest, year: int) -> HttpResponse:
    return _page(request, _book(request, year))


@require_GET
@owner_only
def day_book_csv(request: StudioRequest, year: int) -> HttpResponse:
    book = _book(request, year)
    return csv_response(exports.day_book_csv(book, request.unit.currency), f"day-book-{year}.csv")


@require_GET
@owner_only
def day_book_json(request: StudioRequest, year: int) -> HttpResponse:
    return JsonResponse(
        exports.day_book_json(_book(request, year), request.unit.currency),
        headers={
            "Content-Disposition": f'attachment; filename="day-book-{year}.json"',
            "Cache-Control": "private, no-store",
        },
    )


@require_GET
@owner_only
def consumer_law(request: StudioRequest) -> HttpResponse:
    return render(request, "orders/consumer_law.html")


def _book(request: StudioRequest, year: int) -> queries.DayBook:
    try:
        first_on, last_on = tax_year(date(year, 6, 1))
    except ValueError:
        raise Http404 from None
    return queries.day_book(request.unit, first_on, last_on)


def _page(request: StudioRequest, book: queries.DayBook) -> HttpResponse:
    today = timezone.localdate()
    context: dict[str, Any] = {
        "book": book,
        "page": paged(request, book.entries),
        "years": queries.years(request.unit, today),
        "today": today,
    }
    return render(request, "orders/day_book.html", context)
