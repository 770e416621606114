"""Consignments of a show: make, change, split; the legs they travel. Each form is a page of its own."""

from __future__ import annotations

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import path
from django.views.decorators.http import require_http_methods, require_POST

from inventory.access import LEADS, allow
from inventory.models import Item
from shipping import booking, consigning
from shipping.access import must_lead, show_or_404
from shipping.consigning import ConsigningRefusal
from shipping.forms.shows import ConsignmentForm, LegForm, ShowForm
from shipping.models import Consignment, ConsignmentCase, Leg, Show

page = require_http_methods(["GET", "HEAD", "POST"])


def _led(request: HttpRequest, code: str) -> Show:
    show = show_or_404(request, code)
    must_lead(request, show)
    return show


def _form(request: HttpRequest, show: Show, form: forms.BaseForm, title: str, button: str, **more: str) -> HttpResponse:
    context = {"show": show, "form": form, "title": title, "button": button, **more}
    return render(request, "shipping/show_form.html", context, status=422 if form.is_bound else 200)


@page
@allow(*LEADS)
def edit(request: HttpRequest, code: str) -> HttpResponse:
    """Change anything of a show but the code: labels and entries carry that."""
    show = _led(request, code)
    form = ShowForm(request.POST or None, instance=show)
    if form.is_bound and form.is_valid():
        form.save()
        messages.success(request, f"{show} is changed. Its code stays {show.code}, so labels stay valid.")
        return redirect("show", show.code)
    return _form(request, show_or_404(request, code), form, "Change the show", "Save the show")


@page
@allow(*LEADS)
def add(request: HttpRequest, code: str) -> HttpResponse:
    show = _led(request, code)
    form = ConsignmentForm(request.POST or None, cases=booking.cases_of(show))
    if form.is_bound and form.is_valid():
        try:
            made = consigning.consign(show, form.cleaned_data["name"], list(form.cleaned_data["cases"]))
            messages.success(request, f"{made.name}: {made.cases.count()} cases, numbered from 1.")
            return redirect("show", show.code)
        except ConsigningRefusal as refusal:
            form.add_error(None, str(refusal))
    return _form(request, show, form, "Make a consignment", "Make the consignment")


@page
@allow(*LEADS)
def split(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    """Send the ticked cases another way."""
    show = _led(request, code)
    consignment = get_object_or_404(Consignment, pk=pk, show=show)
    form = ConsignmentForm(request.POST or None, cases=Item.objects.filter(consignments__consignment=consignment))
    if form.is_bound and form.is_valid():
        try:
            made = consigning.split(consignment, form.cleaned_data["name"], list(form.cleaned_data["cases"]))
            messages.success(request, f"{made.name} is split off {consignment.name}; both are numbered anew.")
            return redirect("show", show.code)
        except ConsigningRefusal as refusal:
            form.add_error(None, str(refusal))
    return _form(request, show, form, f"Split {consignment.name}", "Send these another way")


@require_POST
@allow(*LEADS)
def case(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    """Where one case goes at the venue, whether it is first off, or out of the consignment."""
    show = _led(request, code)
    row = get_object_or_404(ConsignmentCase.objects.select_related("consignment"), pk=pk, consignment__show=show)
    if "remove" in request.POST:
        row.delete()
        consigning.renumber(row.consignment)
        messages.success(request, "Out of the consignment; the rest is numbered anew.")
    else:
        row.to_room = request.POST.get("to_room", "")[:60].strip()
        row.first_off = "first_off" in request.POST
        row.save(update_fields=["to_room", "first_off"])
    return redirect("show", show.code)


@page
@allow(*LEADS)
def leg_add(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    show = _led(request, code)
    consignment, form = get_object_or_404(Consignment, pk=pk, show=show), LegForm(request.POST or None)
    if form.is_bound and form.is_valid():
        leg = consigning.add_leg(consignment, **form.cleaned_data)
        messages.success(request, f"Leg {leg.position} of {consignment.name} is planned.")
        return redirect("show", show.code)
    return _form(request, show, form, f"Add a leg to {consignment.name}", "Add the leg")


@page
@allow(*LEADS)
def leg_edit(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    show = _led(request, code)
    leg = get_object_or_404(Leg, pk=pk, consignment__show=show)
    if "remove" in request.POST:
        return _drop(request, show, leg)
    form = LegForm(request.POST or None, instance=leg)
    if form.is_bound and form.is_valid():
        form.save()
        messages.success(request, "The leg is changed.")
        return redirect("show", show.code)
    return _form(request, show, form, f"Change leg {leg.position}", "Save the leg", remove="Take it off the plan")


def _drop(request: HttpRequest, show: Show, leg: Leg) -> HttpResponse:
    try:
        consigning.drop_leg(leg)
        messages.success(request, "The leg is off the plan.")
    except ConsigningRefusal as refusal:
        messages.error(request, str(refusal))
    return redirect("show", show.code)


urlpatterns = [
    path("show/<str:code>/edit/", edit, name="show-edit"),
    path("show/<str:code>/consignments/", add, name="consignment-add"),
    path("show/<str:code>/consignments/<int:pk>/split/", split, name="consignment-split"),
    path("show/<str:code>/consignments/case/<int:pk>/", case, name="consignment-case"),
    path("show/<str:code>/consignments/<int:pk>/legs/", leg_add, name="leg-add"),
    path("show/<str:code>/legs/<int:pk>/", leg_edit, name="leg-edit"),
]
