"""The studio's views to make and revoke private links to the family page.

For the owner only, because the page shows what the job costs.
"""

from urllib.parse import urlencode

import segno
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from orders.family_page import private_links
from orders.family_page.forms import LinkForm
from orders.family_page.models import FamilyLink
from studio.jobs.models import Job
from studio.web.requests import StudioRequest, client_key, owner_only


@require_POST
@owner_only
@never_cache
def make_link(request: StudioRequest, reference: str) -> HttpResponse:
    """Make a link and show its address, the only time: neither session nor database stores it."""
    job = get_object_or_404(request.unit.jobs.select_related("family", "unit"), reference=reference)
    form = LinkForm(request.POST)
    if not form.is_valid():
        return render(
            request, "orders/family_page/link_made.html", {"job": job, "form": form}, status=422
        )
    link, token = private_links.make_link(
        job, days=form.cleaned_data["days"], by=request.user, at=timezone.now()
    )
    address = request.build_absolute_uri(reverse("family_page:arrive", args=[token]))
    context = {
        "job": job,
        "link": link,
        "address": address,
        "mail": _mail(job, address),
        "code": segno.make(address, error="m").svg_data_uri(scale=4, border=4, light="white"),
    }
    return render(request, "orders/family_page/link_made.html", context)


@require_POST
@owner_only
def revoke_link(request: StudioRequest, pk: int) -> HttpResponse:
    """Revoke a family's link."""
    link = get_object_or_404(
        FamilyLink.objects.select_related("job"), job__unit=request.unit, pk=pk
    )
    private_links.revoke_link(link, by=request.user, at=timezone.now(), key=client_key(request))
    messages.success(request, "The link is revoked: it opens nothing from now on.")
    return redirect(link.job)


def _mail(job: Job, address: str) -> str:
    """Return a mailto link with the address, for the owner's mail program."""
    body = _(
        "Dear %(contact)s,\n\nhere you can see how the casts of %(names)s come on:\n\n%(address)s\n\n"
        "The page is for your eyes; whoever has the link can open it.\n\n%(studio)s\n%(phone)s\n"
    )
    facts = {
        "contact": job.family.contact_name,
        "names": job.first_names,
        "address": address,
        "studio": job.unit.name,
        "phone": job.unit.phone,
    }
    words = {"subject": _("%(names)s’s casts") % facts, "body": body % facts}
    # A mail program reads "+" as itself.
    return f"mailto:{job.family.email}?{urlencode(words).replace('+', '%20')}"
