"""Bank statements: upload, choose columns, post lines or set them aside; for the owner only."""

from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render, resolve_url
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from orders.bank import actions, bank_files
from orders.bank.forms import ColumnsForm, PostForm, SetAsideForm, StatementForm
from orders.bank.models import Statement, StatementLine
from orders.bank.proposals import columns_for, with_proposals
from studio import references
from studio.stages import ActionRefused, Refused
from studio.web.paging import paged
from studio.web.requests import StudioRequest, client_key, form_page, owner_only
from studio.work.queue import begin_work


@require_GET
@owner_only
def bank(request: StudioRequest) -> HttpResponse:
    lines = request.unit.statement_lines.waiting()
    page = paged(request, lines)
    context = {
        "page": page,
        "waiting": with_proposals(request.unit, list(page.object_list)),
        "statements": request.unit.statements.defer("data")[:5],
        "form": StatementForm(),
        "today": timezone.localdate(),
    }
    return render(request, "orders/bank/bank.html", context)


@require_POST
@owner_only
def take_statement(request: StudioRequest) -> HttpResponse:
    form = StatementForm(request.POST, request.FILES)
    if form.is_valid():
        file = form.cleaned_data["file"]
        try:
            statement = actions.take_statement(
                request.unit,
                name=file.name,
                data=file.read(),
                by=request.user,
                at=timezone.now(),
            )
        except Refused as refused:
            form.refuse(refused)
        else:
            return _go_on(request, statement)
    context = {"form": form, "back": resolve_url("orders:bank")}
    return render(request, "orders/bank/take_statement.html", context, status=422)


@require_GET
@owner_only
def statement(request: StudioRequest, pk: int) -> HttpResponse:
    found = _statement(request, pk)
    context = {"statement": found, "is_csv": _is_csv(found), "today": timezone.localdate()}
    return render(request, "orders/bank/statement.html", context)


@require_http_methods(["GET", "POST"])
@owner_only
def set_columns(request: StudioRequest, pk: int) -> HttpResponse:
    found = _statement(request, pk)
    if not _is_csv(found):
        return redirect(found)
    try:
        headings = bank_files.headings(bytes(found.data or b""))
    except bank_files.Unreadable as error:
        messages.error(request, str(error))
        return redirect(found)
    known = request.unit.bank_columns.filter(headings=headings).first()
    form = ColumnsForm(headings, request.POST or None, known=known)
    if request.method == "POST" and form.is_valid():
        actions.set_columns(request.unit, headings=headings, columns=form.columns())
        return _read(request, found)
    context = {
        "statement": found,
        "form": form,
        "rows": bank_files.first_rows(bytes(found.data or b"")),
        "headings": headings,
        "back": resolve_url("orders:bank"),
    }
    return render(request, "orders/bank/columns.html", context, status=422 if form.errors else 200)


@require_POST
@owner_only
def drop_statement(request: StudioRequest, pk: int) -> HttpResponse:
    actions.drop_statement(_statement(request, pk))
    messages.success(request, "The file is forgotten; nothing was written from it.")
    return redirect("orders:bank")


@require_POST
@owner_only
def post_line(request: StudioRequest, pk: int) -> HttpResponse:
    line = _line(request, pk)
    form = PostForm(request.POST)
    order = request.unit.orders.filter(job__reference=_reference(form)).first()
    if order is None:
        raise ActionRefused("No job of this studio has that reference: check it letter by letter.")
    actions.post_line(line, order, by=request.user, at=timezone.now(), key=client_key(request))
    messages.success(request, f"Posted on job {order.job.display_reference}.")
    return redirect("orders:bank")


@require_http_methods(["GET", "POST"])
@owner_only
def set_aside_line(request: StudioRequest, pk: int) -> HttpResponse:
    line = _line(request, pk)
    form = SetAsideForm(request.POST or None)
    return form_page(
        request,
        form,
        save=lambda: actions.set_aside_line(line, why=form.cleaned_data["why"]),
        done=resolve_url("orders:bank"),
        said="Set aside.",
        heading="No payment of a family",
        lead=f"{line.name} {line.words}".strip(),
        submit="Set it aside",
    )


@require_POST
@owner_only
def put_line_back(request: StudioRequest, pk: int) -> HttpResponse:
    actions.put_line_back(_line(request, pk))
    messages.success(request, "It waits again.")
    return redirect("orders:bank")


def _go_on(request: StudioRequest, statement: Statement) -> HttpResponse:
    if statement.state == Statement.State.READ:
        messages.info(request, "This file was read before: nothing in it is new.")
        return redirect(statement)
    if _is_csv(statement) and not _columns_are_known(statement):
        return redirect("orders:set_columns", statement.pk)
    return _read(request, statement)


def _read(request: StudioRequest, statement: Statement) -> HttpResponse:
    """Queue the reading of a statement for the worker."""
    work = begin_work(
        request.unit,
        "bank_statement",
        title=f"Read {statement.name}",
        facts={"statement": statement.pk},
        by=request.user,
        at=timezone.now(),
        key=uuid4(),
    )
    return redirect(work)


def _columns_are_known(statement: Statement) -> bool:
    try:
        return columns_for(statement) is not None
    except bank_files.Unreadable:
        return True  # no headings to ask about: reading it says why


def _is_csv(statement: Statement) -> bool:
    data = bytes(statement.data or b"")
    return bool(data) and bank_files.kind_of(data) == "csv"


def _reference(form: PostForm) -> str:
    typed: Any = form.data.get("reference", "")
    try:
        return references.normalise(typed)
    except ValueError as slip:
        raise ActionRefused(str(slip)) from None


def _statement(request: StudioRequest, pk: int) -> Statement:
    return get_object_or_404(request.unit.statements, pk=pk)


def _line(request: StudioRequest, pk: int) -> StatementLine:
    return get_object_or_404(request.unit.statement_lines, pk=pk)
