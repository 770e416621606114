"""The cases and the page of one: may it close, and what stands in the way."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import django_tables2 as tables
from django.contrib import messages
from django.db.models import Count, QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.utils import timezone

from inventory.access import CREW, HOUSE, allow, role_of
from inventory.models import Item, Kind
from inventory.naming import item_named
from shipping.case_sheet import sheet_of
from shipping.forms.cases import BreakSealForm, PackForm, SealForm, TakeOutForm, WaiveForm, WeighForm
from shipping.packing.facts import Finding
from shipping.planning import seals_of
from shipping.tables.cases import CaseTable, address

FORMS = {
    "seal": SealForm, "break_seal": BreakSealForm, "pack": PackForm, "take_out": TakeOutForm, "weigh": WeighForm,
    "waive": WaiveForm,
}  # fmt: skip
PER_PAGE = 50
NOT_A_CASE = {Kind.VEHICLE, Kind.FRAME}


def all_cases() -> QuerySet[Item]:
    found = Item.objects.in_stock().containers().exclude(type__kind__in=NOT_A_CASE)
    return found.select_related("type", "home_system", "holding__place").annotate(things=Count("inside__holdings"))


@allow(*HOUSE)
def case_list(request: HttpRequest) -> HttpResponse:
    found, words = all_cases(), request.GET.get("q", "").strip()
    if words:
        found = found.filter(number__icontains=words)
    table = CaseTable(found, seals={}, order_by=request.GET.get("sort", "number"))
    tables.RequestConfig(request, paginate={"per_page": PER_PAGE, "silent": True}).configure(table)
    table.seals = seals_of([row.record.pk for row in table.paginated_rows], timezone.now())
    return render(request, "shipping/cases.html", {"table": table, "words": words, "count": found.count()})


def case_called(number: str) -> Item:
    """The case with this number, former number or code."""
    item = item_named(number)
    if item is None or not hasattr(item.type, "container") or item.type.kind in NOT_A_CASE:
        raise Http404(f"No case is called {number}. Look it up under Where is…")
    return item


@allow(*HOUSE)
def case_page(request: HttpRequest, number: str) -> HttpResponse:
    case = case_called(number)
    if case.number and case.number.upper() != number.upper() and number.upper() in _old_numbers(case):
        messages.info(request, f"{number} is now {case}. Relabel it.")
        return redirect(address(case))
    return show_case(request, case, timezone.now())


def _old_numbers(case: Item) -> set[str]:
    return {alias.number.upper() for alias in case.aliases.all()}


def show_case(
    request: HttpRequest, case: Item, at: datetime, *, refused: str = "", findings: list[Finding] | None = None,
    **bound: Any,
) -> HttpResponse:  # fmt: skip
    """The page, as it stands or after a refusal (422): with the sentence, the findings and the form as it was sent."""
    forms = {f"{name}_form": bound.get(name) or form(auto_id=f"{name}_%s") for name, form in FORMS.items()}
    sheet = sheet_of(case, at)
    context = {
        "sheet": sheet,
        "refused": refused,
        "refused_findings": findings or [],
        "may_act": may_act(request),
        **forms,
    }
    return render(request, "shipping/case.html", context, status=422 if refused or bound else 200)


def may_act(request: HttpRequest) -> bool:
    return role_of(request.user) in CREW


urlpatterns = [
    path("cases/", case_list, name="cases"),
    path("case/<str:number>/", case_page, name="case"),
]
