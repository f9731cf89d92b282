"""Pagination of lists."""

from typing import Any

from django.core.paginator import Page, Paginator

from studio.web.requests import StudioRequest

ROWS_A_PAGE = 25


def paged(request: StudioRequest, rows: Any) -> Page[Any]:
    """Return the page of rows that the address asks for by `?page=`, the nearest one if there is no such page."""
    return Paginator(rows, ROWS_A_PAGE).get_page(request.GET.get("page"))
