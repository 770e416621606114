"""Places and what is in them; people, organisations and what is in their hands."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.core.paginator import Page
from django.db.models import Count, F, Model, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import path
from django.utils import timezone
from django_tables2 import LazyPaginator, RequestConfig

from inventory import changing
from inventory.access import HOUSE, KIT, allow, witness_of
from inventory.forms.rows import OrganisationForm, PersonForm, PlaceForm
from inventory.models import Holding, Organisation, Person, Place, PlaceKind
from inventory.tables.things import ThingTable, lines, rows

PER_PAGE = 50
LINES = 100  # of places, of people
SHOWN = 30  # changes of one row


def _leaf(request: HttpRequest, found: QuerySet[Any], name: str = "page") -> Page:
    return LazyPaginator(found, LINES).get_page(request.GET.get(name, 1))


@allow(*HOUSE)
def places(request: HttpRequest) -> HttpResponse:
    """Every place that stands still, and how many things are in it."""
    found = (
        Place.objects.exclude(kind__in=(PlaceKind.INSIDE, PlaceKind.PERSON, PlaceKind.ROAD))
        .select_related("parent")
        .annotate(count=Count("holdings"))
        .order_by(F("parent__name").asc(nulls_first=True), "name", "pk")
    )
    return render(request, "inventory/places.html", {"leaf": _leaf(request, found)})


@allow(*HOUSE)
def place(request: HttpRequest, pk: int) -> HttpResponse:
    """What is in one place by present knowledge, a page at a time."""
    spot = get_object_or_404(Place.objects.select_related("parent", "item__type", "person"), pk=pk)
    table = ThingTable(lines(rows().filter(holding__place=spot)), exclude=("place",), order_by=("called",))
    RequestConfig(request, paginate={"per_page": PER_PAGE, "paginator_class": LazyPaginator}).configure(table)
    page = {
        "place": spot,
        "table": table,
        "count": Holding.objects.filter(place=spot).count(),
        "changes": changing.of(spot)[:SHOWN],
        "parts": spot.parts.annotate(count=Count("holdings")).order_by("name")[:LINES],
    }
    return render(request, "inventory/place.html", page)


@allow(*HOUSE)
def people(request: HttpRequest) -> HttpResponse:
    found = Person.objects.select_related("organisation", "deputy", "hands").annotate(count=Count("hands__holdings"))
    firms = Organisation.objects.annotate(count=Count("items"))
    page = {
        "leaf": _leaf(request, found.order_by("name", "pk")),
        "firms": _leaf(request, firms.order_by("name", "pk"), "firms"),
    }
    return render(request, "inventory/people.html", page)


def keep_row(request: HttpRequest, form: forms.ModelForm) -> bool:
    """Save a valid form with its history; False, with the reason on the form, if somebody else was quicker."""
    by, seen = witness_of(request).name, request.POST.get("seen", "")
    try:
        row = changing.save(form, by=by, at=timezone.now(), seen=seen)
    except changing.Overtaken as overtaken:
        form.add_error(None, str(overtaken))
        return False
    messages.success(request, f"{row} is in the book.")
    return True


def history(known: Model | None) -> dict[str, object]:
    """For the page of a form: what was changed in its row, newest first, and how far that went when it was shown."""
    return {"changes": changing.of(known)[:SHOWN] if known else [], "seen": changing.mark(known)}


def _one_row(request: HttpRequest, form_class: type[forms.ModelForm], known: Model | None, back: str) -> HttpResponse:
    """Add or change one row by one form."""
    form = form_class(request.POST or None, instance=known)
    if request.method == "POST" and form.is_valid() and keep_row(request, form):
        return redirect(back)
    page = {"form": form, "known": known, "what": form_class.Meta.model._meta.verbose_name, "back": back}
    page |= history(known)
    return render(request, "inventory/one_row.html", page, status=422 if request.method == "POST" else 200)


@allow(*KIT)
def place_edit(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    fixed = Place.objects.exclude(kind__in=(PlaceKind.INSIDE, PlaceKind.PERSON, PlaceKind.ROAD, PlaceKind.GONE))
    return _one_row(request, PlaceForm, get_object_or_404(fixed, pk=pk) if pk else None, "places")


@allow(*KIT)
def person_edit(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    return _one_row(request, PersonForm, get_object_or_404(Person, pk=pk) if pk else None, "people")


@allow(*KIT)
def organisation_edit(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    return _one_row(request, OrganisationForm, get_object_or_404(Organisation, pk=pk) if pk else None, "people")


urlpatterns = [
    path("places/", places, name="places"),
    path("places/add/", place_edit, name="place-add"),
    path("place/<int:pk>/", place, name="place"),
    path("place/<int:pk>/edit/", place_edit, name="place-edit"),
    path("people/", people, name="people"),
    path("people/add/", person_edit, name="person-add"),
    path("people/<int:pk>/", person_edit, name="person-edit"),
    path("organisations/add/", organisation_edit, name="organisation-add"),
    path("organisations/<int:pk>/", organisation_edit, name="organisation-edit"),
]
