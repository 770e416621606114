"""Import of a gear sheet: upload, dry run, questions, commit, and the sheet back."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.core.paginator import Paginator
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import path
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from inventory.access import KIT, allow, witness_of
from inventory.exchange import writing
from inventory.exchange.back import sheet_back
from inventory.exchange.columns import AMBIGUOUS, BY_NAME, FIELDS
from inventory.exchange.commit import CommitRefused, commit
from inventory.exchange.kinds import published
from inventory.exchange.layout import OWN, mapping_key
from inventory.exchange.limits import STATED, SheetRefused
from inventory.exchange.out import CSV, XLSX, attachment
from inventory.exchange.plan import Plan, plan_sheet
from inventory.exchange.reading import read
from inventory.forms.importing import UploadForm, answers_from, key_of
from inventory.models import ImportedSheet

PER_PAGE = 100
SHEETS = 20


@allow(*KIT)
@require_http_methods(["GET", "HEAD", "POST"])
def upload(request: HttpRequest) -> HttpResponse:
    """Choose a file. A sheet that was left half way is found again here."""
    form = UploadForm(request.POST, request.FILES) if request.method == "POST" else UploadForm()
    if request.method == "POST" and form.is_valid():
        sheet = form.save(by=witness_of(request).name, at=timezone.now())
        return redirect("import-sheet", sheet.pk)
    sheets = ImportedSheet.objects.defer("body")
    context = {
        "form": form, "fields": FIELDS, "kinds": published(), "limits": STATED,
        "ambiguous": [(word, [BY_NAME[name].heading for name in names]) for word, names in AMBIGUOUS.items()],
        "waiting": [(sheet, writing.state(sheet)) for sheet in sheets.filter(committed_at=None)[:SHEETS]],
        "leaf": Paginator(sheets.exclude(committed_at=None), SHEETS).get_page(request.GET.get("page")),
    }  # fmt: skip
    return render(request, "inventory/import.html", context, status=422 if form.errors else 200)


@allow(*KIT)
@require_GET
def sheet_page(request: HttpRequest, pk: int) -> HttpResponse:
    """The dry run of a sheet, or what became of it."""
    sheet = get_object_or_404(ImportedSheet, pk=pk)
    if sheet.committed_at:
        return render(request, "inventory/import_done.html", {"sheet": sheet, "one_tab": _tabs(sheet) == 1})
    now = writing.state(sheet)
    if now is not None and now.is_alive:
        return render(request, "inventory/import_writing.html", {"sheet": sheet, "now": now})
    return _dry_run(request, sheet)


def _while_it_waits(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """A sheet that is being written takes no answers: its page says how far it is, and how to stop it."""

    @wraps(view)
    def wrapped(request: HttpRequest, pk: int) -> HttpResponse:
        if writing.is_written(pk):
            messages.error(request, "This sheet is being put into the book. Wait for it, or stop it first.")
            return redirect("import-sheet", pk)
        return view(request, pk)

    return wrapped


def _dry_run(request: HttpRequest, sheet: ImportedSheet, status: int = 200) -> HttpResponse:
    try:
        plan = plan_sheet(sheet)
    except SheetRefused as refusal:
        return render(request, "inventory/import_refused.html", {"sheet": sheet, "sentence": refusal}, status=422)
    return render(request, "inventory/import_sheet.html", _context(request, sheet, plan), status=status)


def _context(request: HttpRequest, sheet: ImportedSheet, plan: Plan) -> dict[str, Any]:
    page = Paginator(plan.rows, PER_PAGE).get_page(request.GET.get("page"))
    questions = [(key_of(one.id), one) for one in plan.questions]
    kept = sheet.outcome.get("kept", {})
    return {
        "sheet": sheet, "plan": plan, "page": page,
        "must": [(key, one) for key, one in questions if one.is_open and one.holds_up],
        "may": [(key, one) for key, one in questions if one.is_open and not one.holds_up],
        "answered": [(key, one, kept.get(one.id) == one.answer) for key, one in questions if not one.is_open],
        "since": ImportedSheet.objects.defer("body").filter(pk=sheet.outcome.get("since")).first(),
        "columns": [_columns(table) for table in plan.tables],
        "fields": FIELDS, "own": OWN,
        "added": plan.count("add"), "changed": plan.count("change"), "same": plan.count("same"),
        "left_out": sorted(set(plan.left_out)), "broken_off": writing.state(sheet), "long": writing.LONG,
    }  # fmt: skip


def _columns(table: Any) -> dict[str, Any]:
    rows = [(key_of(mapping_key(table.tab.name, column.index)), column) for column in table.columns if column.heading]
    return {"tab": table.tab.name, "rows": rows, "skipped": sorted(table.skipped.items())}


@allow(*KIT)
@require_POST
@_while_it_waits
def answer(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep the answers given so far; each is looked at again with the whole sheet."""
    with transaction.atomic():
        sheet = _waiting(pk)
        given = answers_from(request.POST, plan_sheet(sheet).questions)
        sheet.answers = {**sheet.answers, **given}
        sheet.save(update_fields=["answers"])
    messages.success(request, f"{len(given)} answers kept." if given else "No answer was filled in.")
    return redirect("import-sheet", pk)


@allow(*KIT)
@require_POST
@_while_it_waits
def forget(request: HttpRequest, pk: int) -> HttpResponse:
    """Take one answer back, so that its question is asked again."""
    with transaction.atomic():
        sheet = _waiting(pk)
        wanted = request.POST.get("question", "")
        sheet.answers = {ident: text for ident, text in sheet.answers.items() if key_of(ident) != wanted}
        sheet.save(update_fields=["answers"])
    return redirect("import-sheet", pk)


@allow(*KIT)
@require_POST
@_while_it_waits
def columns(request: HttpRequest, pk: int) -> HttpResponse:
    """Say what the columns mean."""
    with transaction.atomic():
        sheet = _waiting(pk)
        plan = plan_sheet(sheet)
        for table in plan.tables:
            for column in table.columns:
                key = mapping_key(table.tab.name, column.index)
                said = request.POST.get(key_of(key), "")
                if (said in BY_NAME or said == OWN) and said != (column.field or OWN):
                    sheet.mapping[key] = said
        sheet.save(update_fields=["mapping"])
    return redirect("import-sheet", pk)


@allow(*KIT)
@require_POST
@_while_it_waits
def leave_out(request: HttpRequest, pk: int) -> HttpResponse:
    """Leave named rows out, or take them in again."""
    with transaction.atomic():
        sheet = _waiting(pk)
        rows = set(request.POST.getlist("row"))
        kept = set(sheet.left_out) - rows if request.POST.get("do") == "take in" else set(sheet.left_out) | rows
        sheet.left_out = sorted(kept)
        sheet.save(update_fields=["left_out"])
    return redirect("import-sheet", pk)


@allow(*KIT)
@require_POST
@_while_it_waits
def commit_sheet(request: HttpRequest, pk: int) -> HttpResponse:
    """Write the sheet into the book, whole: at once, or a long one by a process of its own."""
    sheet = get_object_or_404(ImportedSheet, pk=pk)
    try:
        if settings.SOLVER_PROCESSES and sheet.committed_at is None and writing.is_long(sheet):
            writing.begin(sheet, by=witness_of(request), at=timezone.now())
            return redirect("import-sheet", pk)
        outcome = commit(pk, by=witness_of(request), at=timezone.now())
    except (CommitRefused, SheetRefused) as refusal:
        messages.error(request, str(refusal))
        return redirect("import-sheet", pk) if sheet.committed_at else _dry_run(request, sheet, status=422)
    messages.success(request, f"{outcome['added']} things added, {outcome['changed']} changed.")
    return redirect("import-sheet", pk)


@allow(*KIT)
@require_POST
@_while_it_waits
def abandon(request: HttpRequest, pk: int) -> HttpResponse:
    """Throw away a sheet that is not in the book yet."""
    with transaction.atomic():
        sheet = _waiting(pk)
        messages.success(request, f"{sheet.name} was put away. Nothing of it is in the book.")
        sheet.delete()
    writing.put_away(pk)
    return redirect("import")


@allow(*KIT)
@require_POST
def stop(request: HttpRequest, pk: int) -> HttpResponse:
    """Ask the process that writes the sheet to stop; then nothing of it goes in."""
    get_object_or_404(ImportedSheet.objects.defer("body"), pk=pk)
    writing.ask_to_stop(pk, by=witness_of(request).name)
    return redirect("import-sheet", pk)


@allow(*KIT)
@require_GET
def sheet_file(request: HttpRequest, pk: int, form: str) -> HttpResponse:
    """The sheet back, with a code beside every thing."""
    sheet = get_object_or_404(ImportedSheet.objects.exclude(committed_at=None), pk=pk)
    return attachment(sheet_back(sheet, form), sheet.name.rpartition(".")[0] or sheet.name, form)


def _waiting(pk: int) -> ImportedSheet:
    return get_object_or_404(ImportedSheet.objects.select_for_update().filter(committed_at=None), pk=pk)


def _tabs(sheet: ImportedSheet) -> int:
    return sum(bool(tab.rows) for tab in read(bytes(sheet.body), sheet.name).tabs)


urlpatterns = [
    path("import/", upload, name="import"),
    path("import/<int:pk>/", sheet_page, name="import-sheet"),
    path("import/<int:pk>/answer/", answer, name="import-answer"),
    path("import/<int:pk>/forget/", forget, name="import-forget"),
    path("import/<int:pk>/columns/", columns, name="import-columns"),
    path("import/<int:pk>/leave-out/", leave_out, name="import-leave-out"),
    path("import/<int:pk>/commit/", commit_sheet, name="import-commit"),
    path("import/<int:pk>/stop/", stop, name="import-stop"),
    path("import/<int:pk>/abandon/", abandon, name="import-abandon"),
    path("import/<int:pk>/gear.csv", sheet_file, {"form": CSV}, name="import-csv"),
    path("import/<int:pk>/gear.xlsx", sheet_file, {"form": XLSX}, name="import-xlsx"),
]
