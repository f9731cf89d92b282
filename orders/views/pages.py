"""What the pages of this room share: one form and one action, or a list with its way through."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.core.paginator import Page, Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render

from studio.actions import EditedMeanwhile
from studio.http import StudioRequest, status_of
from studio.stages import Refused

ROWS_A_PAGE = 25


def form_page(
    request: StudioRequest,
    form: Any,
    *,
    save: Callable[[], object],
    done: str,
    said: str = "Saved.",
    **words: Any,
) -> HttpResponse:
    """The form comes back filled with a sentence (422, 409), or its action is done and `said`.

    `words`: heading, submit, and if wanted over, lead, variant.
    """
    status, differences = status_of(form), []
    if request.method == "POST" and form.is_valid():
        try:
            save()
        except EditedMeanwhile as edited:
            status, differences = 409, form.tell(edited)
        except Refused as refused:
            status = 409
            form.refuse(refused)
        else:
            messages.success(request, said)
            return redirect(done)
    context = {"form": form, "back": done, "differences": differences} | words
    return render(request, "orders/form.html", context, status=status)


def paged(request: StudioRequest, rows: Any) -> Page[Any]:
    return Paginator(rows, ROWS_A_PAGE).get_page(request.GET.get("page"))
