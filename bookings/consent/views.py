from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST

from bookings.consent import actions, wording
from bookings.consent.forms import ConsentForm
from bookings.consent.models import Consent
from studio.web.requests import StudioRequest, client_key

_WITHDRAWN: dict[str, str] = {
    Consent.Purpose.MAKE: "The yes to the casts is taken back: stop the work, and speak with them.",
    Consent.Purpose.KEEP: (
        "The yes to photographs is taken back, and with it that to showing them. Nobody is shown "
        "them from now on; they wait here to be erased."
    ),
    Consent.Purpose.SHOW: "The yes to showing is taken back. It counts from now on, everywhere.",
}


@require_POST
def give_consent(request: StudioRequest, pk: int) -> HttpResponse:
    family = get_object_or_404(request.unit.families, pk=pk)
    form = ConsentForm(request.POST)
    back = back_url(request, family.get_absolute_url())
    if not form.is_valid():
        asked = wording.WORDINGS.get(request.POST.get("purpose", ""))
        context = {
            "form": form,
            "family": family,
            "back": back,
            "wording": asked.translated() if asked else None,
        }
        return render(request, "bookings/consent/give_consent.html", context, status=422)
    actions.give_consent(family, **form.cleaned_data, by=request.user, at=timezone.now())
    messages.success(request, "The family’s yes is written down.")
    return redirect(back)


@require_POST
def withdraw_consent(request: StudioRequest, pk: int) -> HttpResponse:
    consent = get_object_or_404(Consent, family__unit=request.unit, pk=pk)
    actions.withdraw_consent(consent, by=request.user, at=timezone.now(), key=client_key(request))
    messages.success(request, _WITHDRAWN[consent.purpose])
    return redirect(back_url(request, consent.family.get_absolute_url()))


def back_url(request: StudioRequest, default: str) -> str:
    """Return the URL in the form's field `back` if it is on this site, else `default`."""
    named = request.POST.get("back", "")
    return named if named and url_has_allowed_host_and_scheme(named, None) else default
