"""A border list: its lines, what is wrong with them, issuing it, and what goes across on a leg."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import path
from django.utils import timezone
from django.views.decorators.http import require_POST

from inventory.access import HOUSE, KIT, LEADS, allow, witness_of
from shipping import border, waiving
from shipping.border import BorderRefusal
from shipping.forms.border import LineForm, NewListForm
from shipping.forms.cases import WaiveForm
from shipping.models import BorderLine, BorderList, Leg, Show
from shipping.piles import piles
from shipping.planning import findings_for_border
from shipping.sealing import in_the_way
from shipping.waiving import standing


def _lists() -> Any:
    return BorderList.objects.select_related("show")


@allow(*HOUSE)
def border_page(request: HttpRequest, pk: int) -> HttpResponse:
    return show_list(request, get_object_or_404(_lists(), pk=pk))


def show_list(request: HttpRequest, listed: BorderList, refused: str = "") -> HttpResponse:
    """The list with what the rules say of it, and each leg that crosses."""
    judged = standing(findings_for_border(listed, timezone.now()))
    sorted_out = piles(judged)
    legs = Leg.objects.filter(consignment__show=listed.show, crosses_border=True)
    legs = legs.select_related("consignment__show", "vehicle", "from_place", "to_place")
    context = {
        "in_the_way": in_the_way(len(sorted_out.blocks), "issuing it"),
        "listed": listed, "lines": listed.lines.select_related("item__owner", "case"), "refused": refused,
        "piles": sorted_out,
        "crossings": [(leg, border.crossing(listed, leg)) for leg in legs],
    }  # fmt: skip
    return render(request, "shipping/border.html", context, status=422 if refused else 200)


@allow(*KIT)
def border_new(request: HttpRequest, code: str) -> HttpResponse:
    show = get_object_or_404(Show, code=code)
    form = NewListForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            made = border.draft(show, **form.cleaned_data)
        except BorderRefusal as no:
            form.add_error(None, str(no))
        else:
            return redirect("border-list", made.pk)
    context = {"show": show, "form": form, "lists": show.border_lists.order_by("pk")}
    return render(request, "shipping/border_new.html", context, status=422 if form.errors else 200)


@allow(*KIT)
def border_line(request: HttpRequest, pk: int, line: int) -> HttpResponse:
    found = get_object_or_404(BorderLine.objects.select_related("border_list__show", "item"), border_list=pk, line=line)
    form = LineForm(request.POST or None, instance=found)
    if request.method == "POST":
        try:
            if "leave_out" in request.POST:
                border.leave_out(found)
                return redirect("border-list", pk)
            if form.is_valid():
                border.mend(found, **form.cleaned_data)
                return redirect("border-list", pk)
        except BorderRefusal as no:
            form.add_error(None, str(no))
    context = {"line": found, "form": form}
    return render(request, "shipping/border_line.html", context, status=422 if form.errors else 200)


@require_POST
@allow(*KIT)
def border_issue(request: HttpRequest, pk: int) -> HttpResponse:
    listed = get_object_or_404(_lists(), pk=pk)
    try:
        border.issue(listed, by=witness_of(request), at=timezone.now())
    except BorderRefusal as no:
        return show_list(request, listed, str(no))
    messages.success(request, f"List {listed.number} is issued. From here on nothing is added to it or changed.")
    return redirect("border-list", pk)


@require_POST
@allow(*LEADS)
def border_decide(request: HttpRequest, pk: int) -> HttpResponse:
    """Record whose decision it is that a line stands as it is."""
    listed, form, at = get_object_or_404(_lists(), pk=pk), WaiveForm(request.POST), timezone.now()
    if not form.is_valid():
        return show_list(request, listed, "Say why, whose decision it is, and the document it stands in.")
    said = dict(form.cleaned_data)
    digest, by = said.pop("finding"), witness_of(request)
    finding = next((one for one in findings_for_border(listed, at) if one.digest == digest), None)
    if finding is None:
        return show_list(request, listed, "The list has changed since the page was shown. Look again.")
    leads = listed.show.lead is None or listed.show.lead.name == by.name
    try:
        waiving.waive(finding, by=by, at=at, leads_show=leads, reference=listed.show.code, **said)
    except waiving.WaiveRefusal as no:
        return show_list(request, listed, str(no))
    messages.success(request, "The decision is recorded; not approved by this tool.")
    return redirect("border-list", pk)


urlpatterns = [
    path("border/<int:pk>/", border_page, name="border-list"),
    path("border/<int:pk>/issue/", border_issue, name="border-issue"),
    path("border/<int:pk>/decide/", border_decide, name="border-decide"),
    path("border/<int:pk>/line/<int:line>/", border_line, name="border-line"),
    path("show/<str:code>/border/", border_new, name="border-new"),
]
