"""Pagination of lists."""

from typing import Any

from django.core.paginator import Page, Paginator

from studio.web.requests import StudioRequest

ROWS_A_PAGE = 25


def paged(request: StudioRequest, rows: Any) -> Page[Any]:
    return Paginator(rows, ROWS_A_PAGE).get_page(request.GET.get("page"))
