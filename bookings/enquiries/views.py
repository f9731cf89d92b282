"""Pages of enquiries: the list, and the forms to record, send and answer one."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from bookings.enquiries import actions
from bookings.enquiries.forms import EnquiryForm, SendEnquiryForm
from bookings.enquiries.matches import families_like
from bookings.enquiries.models import Enquiry
from studio.families.forms import FamilyForm
from studio.jobs.forms import WhyForm
from studio.roles import Role
from studio.stages import Refused
from studio.web.requests import StudioRequest, form_page, open_to, status_of

ENQUIRIES_A_PAGE = 40

LIKELY_FAMILIES = 8


@require_GET
def enquiries(request: StudioRequest) -> HttpResponse:
    waiting, now = request.unit.enquiries.waiting(), timezone.now()
    page = Paginator(waiting, ENQUIRIES_A_PAGE).get_page(request.GET.get("page"))
    context = {
        "page": page,
        "waiting": [(enquiry, enquiry.why_late(now)) for enquiry in page],
        "answered": request.unit.enquiries.recently_answered(),
    }
    return render(request, "bookings/enquiries/enquiries.html", context)


@require_http_methods(["GET", "POST"])
def take_enquiry(request: StudioRequest) -> HttpResponse:
    form = EnquiryForm(request.POST or None, initial={"source": Enquiry.Source.PHONE})
    if request.method == "POST" and form.is_valid():
        enquiry = actions.take_enquiry(
            request.unit, facts=form.facts, at=timezone.now(), key=form.cleaned_data["key"]
        )
        messages.success(request, f"The enquiry of {enquiry.name} is written down.")
        return redirect("bookings:enquiries")
    return render(
        request, "bookings/enquiries/take_enquiry.html", {"form": form}, status=status_of(form)
    )


@require_http_methods(["GET", "POST"])
@open_to(Role.OFFICE)
def send_enquiry(request: StudioRequest) -> HttpResponse:
    form = SendEnquiryForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        enquiry = actions.send_enquiry(
            request.unit, facts=form.facts, at=timezone.now(), key=form.cleaned_data["key"]
        )
        messages.success(request, f"The enquiry of {enquiry.name} is with {request.unit}.")
        return redirect("bookings:send_enquiry")
    return render(
        request, "bookings/enquiries/send_enquiry.html", {"form": form}, status=status_of(form)
    )


@require_http_methods(["GET", "POST"])
def answer_with_family(request: StudioRequest, pk: int) -> HttpResponse:
    """Choose a matching family, or enter a new one."""
    enquiry = get_object_or_404(request.unit.enquiries, pk=pk)
    if request.method == "POST":
        chosen = request.POST.get("family", "")
        family = get_object_or_404(
            request.unit.families, pk=int(chosen) if chosen.isdecimal() else 0
        )
        actions.answer_with_family(enquiry, family=family, at=timezone.now())
        messages.success(request, f"The enquiry of {enquiry.name} belongs to {family} now.")
        return redirect(family)
    return _answer_page(request, enquiry, FamilyForm(initial=_family_values(enquiry)))


@require_POST
def answer_with_new_family(request: StudioRequest, pk: int) -> HttpResponse:
    enquiry = get_object_or_404(request.unit.enquiries, pk=pk)
    form = FamilyForm(request.POST)
    if not form.is_valid():
        return _answer_page(request, enquiry, form, status=422)
    try:
        answered = actions.answer_with_new_family(enquiry, facts=form.facts, at=timezone.now())
    except Refused as refused:
        form.refuse(refused)
        return _answer_page(request, enquiry, form, status=409)
    messages.success(request, f"{answered.family} is in your families. Add the children next.")
    return redirect("studio:family", answered.family_id)


@require_http_methods(["GET", "POST"])
def decline_enquiry(request: StudioRequest, pk: int) -> HttpResponse:
    enquiry = get_object_or_404(request.unit.enquiries, pk=pk)
    form = WhyForm(request.POST or None)
    return form_page(
        request,
        form,
        save=lambda: actions.decline_enquiry(
            enquiry, why=form.cleaned_data["why"], at=timezone.now()
        ),
        done="bookings:enquiries",
        said=f"The enquiry of {enquiry.name} is put away.",
        template="bookings/enquiries/decline_enquiry.html",
        enquiry=enquiry,
    )


def _answer_page(
    request: StudioRequest, enquiry: Enquiry, form: FamilyForm, status: int = 200
) -> HttpResponse:
    words = request.GET.get("q", "").strip()
    found = request.unit.families.search(words).by_name() if words else families_like(enquiry)
    context = {
        "enquiry": enquiry,
        "form": form,
        "words": words,
        "families": found.prefetch_related("children")[:LIKELY_FAMILIES],
    }
    return render(request, "bookings/enquiries/answer_with_family.html", context, status=status)


def _family_values(enquiry: Enquiry) -> dict[str, str]:
    surname = (enquiry.name.split() or [""])[-1]
    facts = {name: getattr(enquiry, name) for name in ("phone", "email", "postcode")}
    return {"name": surname, "contact_name": enquiry.name, "note": enquiry.words, **facts}
