"""The family page and its papers, opened by a private link without a log-in.

On arrival the token in the address is exchanged for a cookie limited to this link's pages, so that
it does not remain in the browser's history or referrers. GET requests change nothing, because mail
scanners open links. All invalid links get the same answer.
"""

from collections.abc import Callable, Sequence
from functools import partial, wraps
from io import BytesIO
from typing import Any
from uuid import UUID

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop
from django.views.decorators.http import require_POST, require_safe

from bookings.consent import actions as consent_actions
from orders.family_page import private_links
from orders.family_page.family_order import chosen_look, look_choices
from orders.family_page.family_view import family_page
from orders.family_page.forms import AcceptForm, DeclineForm, LookForm
from orders.family_page.models import FamilyLink
from orders.invoices.archive import archived_pdf
from orders.invoices.models import Invoice
from orders.order import actions as order_actions
from orders.order import totals
from orders.order.models import Order
from orders.order_page.confirmation import confirmation_pdf
from orders.quotes import actions as quotes_actions
from orders.quotes import quote_pdf
from orders.quotes.models import Quote
from studio import money
from studio.stages import Refused
from studio.versions import EditedMeanwhile
from studio.web.requests import client_key

COOKIE = "caststead_follow"

LinkView = Callable[..., HttpResponseBase]


def open_to_families(view: LinkView) -> LinkView:
    """Pass the view the link of the token in the browser's cookie, or answer that it does not open."""

    @login_not_required
    @wraps(view)
    def wrapped(request: HttpRequest, public_id: UUID, **kwargs: Any) -> HttpResponseBase:
        token = request.COOKIES.get(COOKIE, "")
        return _if_open(
            request, token, lambda link: view(request, link, **kwargs), public_id=public_id
        )

    return wrapped


@login_not_required
@require_safe
def arrive(request: HttpRequest, token: str) -> HttpResponseBase:
    """Exchange the token in the address for a cookie, and redirect to the family page."""

    def enter(link: FamilyLink) -> HttpResponse:
        address = reverse("family_page:page", args=[link.public_id])
        response = HttpResponse(status=303, headers={"Location": address})
        response.set_cookie(
            COOKIE,
            token,
            expires=link.expires_at,
            path=address,
            secure=settings.HTTPS,
            httponly=True,
            samesite="Lax",
        )
        return response

    return _if_open(request, token, enter)


@login_not_required
@require_safe
def no_longer_opens(request: HttpRequest) -> HttpResponseBase:
    """Answer a malformed address like an invalid token, and count it as a miss."""
    return _if_open(request, "", lambda link: HttpResponse())


@require_safe
@open_to_families
def page(request: HttpRequest, link: FamilyLink) -> HttpResponse:
    return _page(request, link)


@require_POST
@open_to_families
def choose_look(request: HttpRequest, link: FamilyLink) -> HttpResponse:
    order = get_object_or_404(Order.objects.select_related("price_list", "unit"), job=link.job)
    form = LookForm(look_choices(order), request.POST)
    if not form.is_valid():
        return _page(request, link, form=form, status=422)
    try:
        chosen = order_actions.choose_look(
            order,
            **chosen_look(order, form.chosen),
            seen_version=form.cleaned_data["version"],
            by=None,
            at=timezone.now(),
            key=form.cleaned_data["key"],
        )
    except EditedMeanwhile as edited:
        form, differences = form.with_conflict(edited)
        return _page(request, link, form=form, differences=differences, status=409)
    except Refused as refused:
        return _page(request, link, reasons=refused.reasons, status=409)
    total_minor = totals.sums(chosen).total_minor
    price = money.display(total_minor, link.job.unit.currency)
    noted = _("Your choice is noted. Altogether it comes to %(price)s.") % {"price": price}
    messages.success(request, noted)
    return redirect("family_page:page", link.public_id)


@require_POST
@open_to_families
def accept_quote(request: HttpRequest, link: FamilyLink) -> HttpResponse:
    return _answer_offer(
        request,
        link,
        AcceptForm(request.POST),
        partial(quotes_actions.accept_quote, method="link", by=None),
        _("Thank you: it is ordered. What you agreed to is kept below, word for word."),
    )


@require_POST
@open_to_families
def decline_quote(request: HttpRequest, link: FamilyLink) -> HttpResponse:
    return _answer_offer(
        request,
        link,
        DeclineForm(request.POST),
        quotes_actions.decline_quote,
        _("Thank you for telling us. Nothing is ordered; we shall speak with you."),
    )


def _answer_offer(
    request: HttpRequest,
    link: FamilyLink,
    form: AcceptForm,
    act: Callable[..., object],
    message: str,
) -> HttpResponse:
    order = get_object_or_404(Order.objects.select_related("price_list", "unit"), job=link.job)
    if not form.is_valid():
        return _page(request, link, reasons=form.reasons, status=422)
    try:
        act(order, **form.cleaned_data, at=timezone.now())
    except Refused as refused:
        return _page(request, link, reasons=refused.reasons, status=409)
    messages.success(request, message)
    return redirect("family_page:page", link.public_id)


@require_safe
@open_to_families
def quote_paper(request: HttpRequest, link: FamilyLink, pk: int) -> FileResponse:
    """Download the quote that the family accepted."""
    quote = get_object_or_404(Quote, order__job=link.job, pk=pk)
    return _download(quote_pdf.quote(quote), f"order-{link.job.display_reference}-as-agreed.pdf")


_TAKEN_BACK = {
    "make": gettext_noop(
        "You took your consent back. It counts from now on: we stop the work and will speak with "
        "you about your order."
    ),
    "keep": gettext_noop(
        "You took your consent back. It counts from now on, and your photographs are not shown "
        "to anybody either."
    ),
    "show": gettext_noop("You took your consent back. It counts from now on."),
}


@require_POST
@open_to_families
def withdraw_consent(request: HttpRequest, link: FamilyLink, pk: int) -> HttpResponse:
    consent = get_object_or_404(link.job.family.consents, pk=pk)
    try:
        consent_actions.withdraw_consent(
            consent, by=None, at=timezone.now(), key=client_key(request)
        )
    except Refused as refused:
        return _page(request, link, reasons=refused.reasons, status=409)
    messages.success(request, _(_TAKEN_BACK[consent.purpose]))
    return redirect("family_page:page", link.public_id)


@require_safe
@open_to_families
def confirmation(request: HttpRequest, link: FamilyLink) -> FileResponse:
    """Download the confirmation of the order at its current state, with the frame drawn to scale."""
    order = get_object_or_404(
        Order.objects.select_related("job__unit", "job__family"), job=link.job
    )
    return _download(
        confirmation_pdf(order, timezone.now()), f"order-{link.job.display_reference}.pdf"
    )


@require_safe
@open_to_families
def paper(request: HttpRequest, link: FamilyLink, pk: int) -> FileResponse:
    invoice = get_object_or_404(Invoice, order__job=link.job, pk=pk)
    return _download(archived_pdf(invoice, at=timezone.now()), f"{invoice.number}.pdf")


def _download(pdf: bytes, name: str) -> FileResponse:
    """Return a PDF as a download."""
    return FileResponse(
        BytesIO(pdf), as_attachment=True, filename=name, content_type="application/pdf"
    )


@require_safe
@open_to_families
def photo(request: HttpRequest, link: FamilyLink, photo_id: UUID) -> FileResponse:
    """Return a photograph of the finished frame, while the family's consent is valid."""
    found = get_object_or_404(link.job.photos.showable(), public_id=photo_id, kind="finished")
    try:
        opened = found.in_size(request.GET.get("size", "full")).open("rb")
    except (KeyError, FileNotFoundError):
        raise Http404("There is no such file of this photograph.") from None
    return FileResponse(opened, content_type="image/jpeg")


def _page(
    request: HttpRequest,
    link: FamilyLink,
    *,
    form: LookForm | None = None,
    differences: Sequence[dict[str, str]] = (),
    reasons: Sequence[str] = (),
    status: int = 200,
) -> HttpResponse:
    today = timezone.localdate()
    shown = family_page(link.job, today)
    if form is None and shown.look and shown.look.choices:
        form = LookForm(shown.look.choices)
    context = {
        "link": link,
        "shown": shown,
        "today": today,
        "form": form if form and form.choices.questions else None,
        "differences": differences,
        "reasons": reasons,
        "decline_form": DeclineForm(initial={"fingerprint": shown.offer.fingerprint})
        if shown.offer
        else None,
    }
    return render(request, "orders/family_page/page.html", context, status=status)


def _if_open(
    request: HttpRequest,
    token: str,
    answer: Callable[[FamilyLink], HttpResponseBase],
    public_id: UUID | None = None,
) -> HttpResponseBase:
    """Answer with the link of this token, or with one and the same page for every invalid link."""
    try:
        link = private_links.open_link(
            token, came_from=_came_from(request), at=timezone.now(), public_id=public_id
        )
        timezone.activate(link.job.unit.time_zone)  # studio.middleware ends it with the answer
        return answer(link)
    except (private_links.LinkUnknown, Http404):  # another job's paper is no news either
        return render(request, "orders/family_page/no_longer_opens.html", status=404)
    except private_links.TooManyMisses:
        response = render(request, "orders/family_page/wait.html", status=429)
        response["Retry-After"] = "60"
        return response


def _came_from(request: HttpRequest) -> str:
    """Return the visitor's network address, behind a proxy as seen by our own proxy."""
    if settings.BEHIND_PROXY:
        forwarded: str = request.headers.get("X-Forwarded-For", "")
        return forwarded.rsplit(",", 1)[-1].strip()
    address: str = request.META.get("REMOTE_ADDR", "")
    return address
