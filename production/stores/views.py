"""Views of the stores."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from production.stock.models import Lot, Material, Purchase
from production.stores import actions, pages, stock_status
from production.stores.forms import (
    AdjustForm,
    CostForm,
    CountForm,
    MaterialForm,
    OrderForm,
    ReceiveForm,
    UseForm,
    WriteOffForm,
)
from studio.jobs.forms import WhyForm
from studio.stages import Refused
from studio.web import paper
from studio.web.requests import StudioRequest, form_page, owner_only, pdf_response, status_of


@require_GET
def stores(request: StudioRequest) -> HttpResponse:
    context = pages.stores(request.unit, timezone.now())
    return render(request, "production/stores/stores.html", context)


@require_GET
def material(request: StudioRequest, pk: int) -> HttpResponse:
    found = _material_with_stock(request, pk)
    context = pages.material(found, timezone.now(), request.GET.get("page"))
    return render(request, "production/stores/material.html", context)


@require_http_methods(["GET", "POST"])
@owner_only
def add_material(request: StudioRequest) -> HttpResponse:
    form = MaterialForm(request.unit, request.POST or None, instance=Material(unit=request.unit))
    return form_page(
        request,
        form,
        save=lambda: actions.add_material(request.unit, facts=form.facts),
        done=reverse("production:stores"),
        said="It stands in your stores. Receive or count what is there.",
        heading="A new material",
        submit="Add it",
    )


@require_POST
@owner_only
def add_usual_materials(request: StudioRequest) -> HttpResponse:
    added = actions.add_usual_materials(request.unit)
    messages.success(request, f"{len(added)} materials were added. Count what is there to begin.")
    return redirect("production:stores")


@require_http_methods(["GET", "POST"])
@owner_only
def edit_material(request: StudioRequest, pk: int) -> HttpResponse:
    found = _material(request, pk)
    form = MaterialForm(
        request.unit,
        request.POST or None,
        instance=found,
        initial={"version": found.version},
    )
    return form_page(
        request,
        form,
        save=lambda: actions.edit_material(
            _material(request, pk), facts=form.facts, seen_version=form.cleaned_data["version"]
        ),
        done=found.get_absolute_url(),
        heading=f"Change {found}",
    )


@require_POST
@owner_only
def retire_material(request: StudioRequest, pk: int) -> HttpResponse:
    retired = actions.retire_material(_material(request, pk), at=timezone.now())
    messages.success(request, f"{retired} is no longer used. Its books stay.")
    return redirect("production:stores")


@require_POST
@owner_only
def bring_back_material(request: StudioRequest, pk: int) -> HttpResponse:
    back = actions.bring_back_material(_material(request, pk))
    messages.success(request, f"{back} is used again.")
    return redirect(back.get_absolute_url())


@require_http_methods(["GET", "POST"])
def receive(request: StudioRequest, pk: int) -> HttpResponse:
    found = _material(request, pk)
    today = timezone.localdate()
    form = ReceiveForm(found, request.role, request.POST or None, today=today)
    return _written(
        request,
        form,
        write=lambda facts: actions.receive(found, **facts),
        material=found,
        heading=f"{found}: a delivery",
        submit="Put it on the shelf",
    )


@require_http_methods(["GET", "POST"])
def use_by_hand(request: StudioRequest, pk: int) -> HttpResponse:
    found = _material(request, pk)
    form = UseForm(found, request.POST or None)
    return _written(
        request,
        form,
        write=lambda facts: actions.use_by_hand(found, **facts),
        material=found,
        heading=f"{found}: something used",
        submit="Note it as used",
    )


@require_http_methods(["GET", "POST"])
def write_off(request: StudioRequest, pk: int) -> HttpResponse:
    lot = _lot(request, pk)
    form = WriteOffForm(lot, request.POST or None)
    return _written(
        request,
        form,
        write=lambda facts: actions.write_off(lot, **facts),
        material=lot.material,
        heading=f"{lot.material}: out of the stores",
        submit="Write it off",
        variant="danger",
    )


@require_http_methods(["GET", "POST"])
@owner_only
def adjust_lot(request: StudioRequest, pk: int) -> HttpResponse:
    lot = _lot(request, pk)
    form = AdjustForm(lot, request.POST or None)
    return _written(
        request,
        form,
        write=lambda facts: actions.adjust_lot(lot, **facts),
        material=lot.material,
        heading=f"{lot.material}: mend the books of this lot",
        submit="Mend the books",
    )


@require_http_methods(["GET", "POST"])
@owner_only
def correct_cost(request: StudioRequest, pk: int) -> HttpResponse:
    lot = _lot(request, pk)
    form = CostForm(lot, request.POST or None)
    return _written(
        request,
        form,
        write=lambda facts: actions.correct_cost(lot, **facts),
        material=lot.material,
        heading=f"{lot.material}: what this lot cost",
        submit="Correct the cost",
        lead="What is left, and every job that used of it, bear their shares of the difference.",
    )


@require_http_methods(["GET", "POST"])
def count_stock(request: StudioRequest) -> HttpResponse:
    """Show and save a stocktake: the first press shows differences, the second saves."""
    now = timezone.now()
    form = CountForm(stock_status.stock_statuses(request.unit, now), request.POST or None)
    status = status_of(form)
    if form.is_settled:
        try:
            found = actions.count_stock(
                request.unit,
                counts=form.counts,
                by=request.user,
                at=now,
                key=form.cleaned_data["key"],
            )
        except Refused as refused:
            status = 409
            form.show_again()
            form.refuse(refused)
        else:
            messages.success(request, pages.counted(found))
            return redirect("production:stores")
    context = {"form": form, "differences": form.to_confirm}
    return render(request, "production/stores/count.html", context, status=status)


@require_GET
def purchases(request: StudioRequest) -> HttpResponse:
    context = pages.purchases(request.unit, timezone.now())
    return render(request, "production/stores/purchases.html", context)


@require_GET
def purchase_list(request: StudioRequest) -> HttpResponse:
    context = pages.purchases(request.unit, timezone.now()) | {"unit": request.unit}
    written = paper.pdf("paper/purchase_list.html", context)
    return pdf_response(written, f"purchases-{context['today']}.pdf")


@require_http_methods(["GET", "POST"])
@owner_only
def order_material(request: StudioRequest, pk: int) -> HttpResponse:
    found = _material_with_stock(request, pk)
    form = OrderForm(stock_status.stock_status_of(found, timezone.now()), request.POST or None)
    return form_page(
        request,
        form,
        save=lambda: actions.order_material(found, **form.cleaned_data, by=request.user),
        done=reverse("production:purchases"),
        said=f"{found}: noted as ordered.",
        heading=f"{found}: an order placed",
        submit="Note the order",
        over=found.supplier,
    )


@require_http_methods(["GET", "POST"])
@owner_only
def close_purchase(request: StudioRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Purchase, material__unit=request.unit, pk=pk)
    form = WhyForm(request.POST or None)
    return form_page(
        request,
        form,
        save=lambda: actions.close_purchase(found, why=form.cleaned_data["why"], at=timezone.now()),
        done=reverse("production:purchases"),
        said=f"{found.material}: the rest of this order is not waited for.",
        heading=f"{found.material}: the rest will not come",
        submit="Wait no longer",
        variant="danger",
    )


def _material(request: StudioRequest, pk: int) -> Material:
    return get_object_or_404(request.unit.materials.select_related("unit"), pk=pk)


def _material_with_stock(request: StudioRequest, pk: int) -> Material:
    found = request.unit.materials.with_stock().select_related("unit", "plaster")
    return get_object_or_404(found, pk=pk)


def _lot(request: StudioRequest, pk: int) -> Lot:
    lots = Lot.objects.select_related("material__unit")
    return get_object_or_404(lots, material__unit=request.unit, pk=pk)


def _written(
    request: StudioRequest,
    form: Any,
    *,
    write: Callable[[dict[str, Any]], object],
    material: Material,
    **words: Any,
) -> HttpResponse:
    """Show a form about one material or run its action, then return to the material."""

    def save() -> None:
        write({**form.cleaned_data, "by": request.user, "at": timezone.now()})

    return form_page(
        request,
        form,
        save=save,
        done=material.get_absolute_url(),
        said="Written down.",
        **words,
    )
