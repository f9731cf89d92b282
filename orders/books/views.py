"""For the accountant: the day book of a tax year, its exports, and turnover; for the owner only."""

from datetime import date
from typing import Any

from django.http import Http404, HttpResponse, JsonResponse
from django.shortcuts import render, resolve_url
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from orders.books import actions, exports
from orders.books import day_book as books_day_book
from orders.books import turnover as turnover_queries
from orders.books.forms import VatThresholdForm
from orders.books.ledger import tax_year
from studio.web.paging import paged
from studio.web.requests import StudioRequest, csv_response, form_page, owner_only


@require_GET
@owner_only
def day_book(request: StudioRequest) -> HttpResponse:
    today = timezone.localdate()
    first_on, last_on = tax_year(today)
    return _page(request, books_day_book.day_book(request.unit, first_on, last_on))


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
    return render(request, "orders/books/consumer_law.html")


def _book(request: StudioRequest, year: int) -> books_day_book.DayBook:
    try:
        first_on, last_on = tax_year(date(year, 6, 1))
    except ValueError:
        raise Http404 from None
    return books_day_book.day_book(request.unit, first_on, last_on)


def _page(request: StudioRequest, book: books_day_book.DayBook) -> HttpResponse:
    today = timezone.localdate()
    context: dict[str, Any] = {
        "book": book,
        "page": paged(request, book.entries),
        "years": books_day_book.years(request.unit, today),
        "today": today,
    }
    return render(request, "orders/books/day_book.html", context)


@require_GET
@owner_only
def turnover(request: StudioRequest) -> HttpResponse:
    today = timezone.localdate()
    context = {
        "turnover": turnover_queries.turnover(request.unit, today),
        "thresholds": request.unit.vat_thresholds.all(),
        "today": today,
    }
    return render(request, "orders/books/turnover.html", context)


@require_http_methods(["GET", "POST"])
@owner_only
def set_vat_threshold(request: StudioRequest) -> HttpResponse:
    form = VatThresholdForm(request.unit.currency, request.POST or None)
    return form_page(
        request,
        form,
        save=lambda: actions.set_vat_threshold(request.unit, **form.facts),
        done=resolve_url("orders:turnover"),
        said="The threshold is written down.",
        heading="The turnover at which you must register",
        lead="The law changes it now and then: write each as it comes, from its day on.",
        submit="Write it down",
    )
