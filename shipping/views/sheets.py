"""Lists to take into a spreadsheet."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import path
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory.access import HOUSE, allow
from inventory.exchange.out import CSV, XLSX, attachment
from shipping import border, sheets
from shipping.documents.forms import NoSuchPaper, find_item
from shipping.models import BorderList, Show


@require_safe
@allow(*HOUSE)
def border_sheet(request: HttpRequest, pk: int, form: str) -> HttpResponse:
    """The lines of an issued list; refused like its print while something stands in the way."""
    listed = get_object_or_404(BorderList.objects.select_related("show"), pk=pk)
    if sentence := border.why_not_printed(listed, timezone.now()):
        messages.error(request, sentence)
        return redirect("border-list", pk)
    body = sheets.table(listed.number, sheets.border_rows(listed), form)
    return attachment(body, f"border list {listed.number}", form)


@require_safe
@allow(*HOUSE)
def case_sheet(request: HttpRequest, number: str, form: str) -> HttpResponse:
    try:
        case = find_item(number)
    except NoSuchPaper as problem:
        messages.error(request, str(problem))
        return redirect("cases")
    body = sheets.table(str(case), sheets.case_rows(case, timezone.now()), form)
    return attachment(body, f"case list {case}", form)


@require_safe
@allow(*HOUSE)
def show_sheet(request: HttpRequest, code: str, form: str) -> HttpResponse:
    show = get_object_or_404(Show, code=code)
    body = sheets.table(show.code, sheets.show_rows(show, timezone.now()), form)
    return attachment(body, f"packing list {show.code}", form)


urlpatterns = [
    path("border/<int:pk>/lines.csv", border_sheet, {"form": CSV}, name="border-csv"),
    path("border/<int:pk>/lines.xlsx", border_sheet, {"form": XLSX}, name="border-xlsx"),
    path("case/<str:number>/list.csv", case_sheet, {"form": CSV}, name="case-csv"),
    path("case/<str:number>/list.xlsx", case_sheet, {"form": XLSX}, name="case-xlsx"),
    path("show/<str:code>/packing.csv", show_sheet, {"form": CSV}, name="show-csv"),
    path("show/<str:code>/packing.xlsx", show_sheet, {"form": XLSX}, name="show-xlsx"),
]
