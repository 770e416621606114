"""Writing things and kinds of thing into the book, and changing them with a reason."""

from __future__ import annotations

from django.contrib import messages
from django.db.models import Count
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import path
from django.utils import timezone
from django_tables2 import LazyPaginator

from inventory import amending
from inventory.access import HOUSE, KIT, allow, witness_of
from inventory.forms.things import FIELDS, AddThingForm, EditThingForm, ItemTypeForm
from inventory.ledger import LedgerRefusal, label_of
from inventory.models import Item, ItemType, Kind
from inventory.naming import item_named
from inventory.views.places import history, keep_row

PER_PAGE = 300


@allow(*KIT)
def item_add(request: HttpRequest) -> HttpResponse:
    form = AddThingForm(request.POST or None, initial=request.GET.dict())
    if request.method == "POST" and form.is_valid() and (item := _added(form, request)):
        return redirect("item", code=label_of(item).code)
    page = {"form": form, "types": ItemType.objects.exists()}
    return render(request, "inventory/item_add.html", page, status=422 if request.method == "POST" else 200)


def _added(form: AddThingForm, request: HttpRequest) -> Item | None:
    data = form.cleaned_data
    fields = {name: data[name] for name in FIELDS if name != "type"}
    by, at = witness_of(request), timezone.now()
    try:
        item = amending.add(data["type"], code=data["code"], place=data["place"], by=by, at=at, **fields)
    except LedgerRefusal as refusal:
        form.add_error("code", str(refusal))
        return None
    messages.success(request, f"{item} is in the book, with the code {label_of(item).code}. Print its label.")
    return item


@allow(*KIT)
def item_edit(request: HttpRequest, code: str) -> HttpResponse:
    item = item_named(code)
    if item is None:
        raise Http404(code)
    form = EditThingForm(request.POST or None, instance=item)
    if request.method == "POST" and form.is_valid():
        changed = amending.change(
            item, form.cleaned_data["reason"], by=witness_of(request), at=timezone.now(), **form.changes()
        )
        messages.success(request, f"{item} is changed." if changed else f"Nothing of {item} was different.")
        return redirect("item", code=code)
    page = {"form": form, "item": item, "code": code}
    return render(request, "inventory/item_edit.html", page, status=422 if request.method == "POST" else 200)


@allow(*HOUSE)
def item_types(request: HttpRequest) -> HttpResponse:
    """Every kind of thing, by what it is; what nobody has measured says so."""
    kind = request.GET.get("kind", "")
    found = ItemType.objects.annotate(count=Count("items")).order_by("kind", "maker", "name", "pk")
    found = found.filter(kind=kind) if kind in Kind.values else found
    leaf = LazyPaginator(found, PER_PAGE).get_page(request.GET.get("page", 1))
    return render(request, "inventory/item_types.html", {"leaf": leaf, "kinds": Kind.choices, "kind": kind})


@allow(*KIT)
def item_type(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    """Add or change a kind of thing: a one-row edit."""
    known = get_object_or_404(ItemType, pk=pk) if pk else None
    form = ItemTypeForm(request.POST or None, instance=known)
    if request.method == "POST" and form.is_valid() and keep_row(request, form):
        return redirect("item-types")
    page = {"form": form, "type": known, **history(known)}
    return render(request, "inventory/item_type.html", page, status=422 if request.method == "POST" else 200)


urlpatterns = [
    path("things/add/", item_add, name="item-add"),
    path("item/<str:code>/edit/", item_edit, name="item-edit"),
    path("kinds/", item_types, name="item-types"),
    path("kinds/add/", item_type, name="item-type-add"),
    path("kinds/<int:pk>/", item_type, name="item-type"),
]
