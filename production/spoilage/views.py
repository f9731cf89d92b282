"""The pages of what spoils: what can be learnt, and the unit's own reasons."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from production.spoilage import actions, lessons
from production.spoilage.forms import SpoilReasonForm
from studio.web.requests import StudioRequest, client_key, form_page, owner_only


@require_GET
def spoilage(request: StudioRequest) -> HttpResponse:
    context = {
        "learnt": lessons.spoilage_statistics(request.unit, timezone.now()),
        "reasons": lessons.reasons_in_use(request.unit, timezone.localdate()),
    }
    return render(request, "production/spoilage/spoilage.html", context)


@require_http_methods(["GET", "POST"])
@owner_only
def add_spoil_reason(request: StudioRequest) -> HttpResponse:
    form = SpoilReasonForm(request.POST or None, initial={"from_on": timezone.localdate()})

    def save() -> object:
        facts = {name: value for name, value in form.cleaned_data.items() if name != "key"}
        return actions.add_spoil_reason(request.unit, **facts)

    return form_page(
        request,
        form,
        save=save,
        done="production:spoilage",
        heading="A reason of your own",
        submit="Add it to the list",
    )


@require_POST
@owner_only
def end_spoil_reason(request: StudioRequest, pk: int) -> HttpResponse:
    reason = get_object_or_404(request.unit.spoil_reasons, pk=pk)
    client_key(request)
    actions.end_spoil_reason(reason, on=timezone.localdate())
    return redirect("production:spoilage")
