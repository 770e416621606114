"""Shows: what goes, when, and is it coming back."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from inventory.access import ANYONE, KIT, allow, witness_of
from shipping import booking, showing
from shipping.access import leads, show_or_404, shows_for
from shipping.booking import BookingRefusal
from shipping.forms.shows import BookForm, CancelForm, ShowForm
from shipping.models import Show

PAGE = 50


@require_safe
@allow(*ANYONE)
def shows(request: HttpRequest) -> HttpResponse:
    return _list(request, ShowForm())


@require_POST
@allow(*KIT)
def add(request: HttpRequest) -> HttpResponse:
    form = ShowForm(request.POST)
    if not form.is_valid():
        return _list(request, form, status=422)
    return redirect("show", form.save().code)


def _list(request: HttpRequest, form: ShowForm, *, status: int = 200) -> HttpResponse:
    """Newest first, a page at a time."""
    rows = shows_for(request).select_related("client", "venue", "coming_back").order_by("-starts_at", "-pk")
    page = Paginator(rows, PAGE).get_page(request.GET.get("page"))
    lines = showing.list_lines(page.object_list, timezone.now())
    return render(request, "shipping/shows.html", {"page": page, "lines": lines, "form": form}, status=status)


@require_safe
@allow(*ANYONE)
def show(request: HttpRequest, code: str) -> HttpResponse:
    return show_page(request, show_or_404(request, code))


def show_page(request: HttpRequest, show: Show, *, status: int = 200, **forms: object) -> HttpResponse:
    """The whole page; a form that was refused stands on it as it was sent."""
    at = timezone.now()
    context = {
        "show": show,
        "leads": leads(request, show),
        **showing.page(show, at),
        "book_form": BookForm(),
        "cancel_form": CancelForm(),
    }
    return render(request, "shipping/show.html", context | forms, status=status)


@require_POST
@allow(*KIT)
def book(request: HttpRequest, code: str) -> HttpResponse:
    """Promise something, and say at once what stands against it."""
    show, form = show_or_404(request, code), BookForm(request.POST)
    if not form.is_valid():
        return show_page(request, show, status=422, book_form=form)
    thing = form.cleaned_data["booked"]
    try:
        findings = booking.book(show, thing, by=witness_of(request).name, at=timezone.now())
    except BookingRefusal as refusal:
        form.add_error(None, str(refusal))
        return show_page(request, show, status=422, book_form=form)
    messages.success(request, f"{thing} is booked on {show}.")
    for finding in findings:
        messages.warning(request, f"{finding.sentence} {finding.way_out}")
    return redirect("show", show.code)


@require_POST
@allow(*KIT)
def unbook(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    show = show_or_404(request, code)
    try:
        gone = booking.unbook(show, pk)
        messages.success(request, f"{booking.thing_of(gone)} is no longer booked on {show}.")
    except BookingRefusal as refusal:
        messages.error(request, str(refusal))
    return redirect("show", show.code)


@require_POST
@allow(*KIT)
def cancel(request: HttpRequest, code: str) -> HttpResponse:
    show, form = show_or_404(request, code), CancelForm(request.POST)
    if not form.is_valid():
        return show_page(request, show, status=422, cancel_form=form)
    try:
        booking.cancel(show, stage=form.cleaned_data["stage"], why=form.cleaned_data["why"], at=timezone.now())
    except BookingRefusal as refusal:
        form.add_error(None, str(refusal))
        return show_page(request, show, status=422, cancel_form=form)
    messages.success(request, f"{show} is cancelled. {booking.STAGES[form.cleaned_data['stage']]}")
    return redirect("show", show.code)


urlpatterns = [
    path("shows/", shows, name="shows"),
    path("shows/add/", add, name="show-add"),
    path("show/<str:code>/", show, name="show"),
    path("show/<str:code>/book/", book, name="show-book"),
    path("show/<str:code>/book/<int:pk>/drop/", unbook, name="show-unbook"),
    path("show/<str:code>/cancel/", cancel, name="show-cancel"),
]
