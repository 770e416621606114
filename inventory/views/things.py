"""The list of things, and the page of one thing."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.core.files.storage import default_storage
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import NoReverseMatch, path, reverse
from django.utils import timezone
from django_tables2 import LazyPaginator, RequestConfig

from inventory import photos
from inventory.access import HOUSE, allow, role_of
from inventory.answers.faults import open_faults
from inventory.answers.history import history
from inventory.answers.whereabouts import whereabouts
from inventory.drawings.nested import nested_boxes
from inventory.exchange.out import CSV, XLSX, table_response
from inventory.forms.filters import ThingFilter
from inventory.models import Item, Kind, Photo
from inventory.naming import item_named
from inventory.standing import facts_of
from inventory.tables.things import ThingTable, lines, rows
from inventory.views.acts import ACTS, Act
from inventory.views.own_drive import content_context

PER_PAGE = 40
LINES = 50


@allow(*HOUSE)
def things(request: HttpRequest) -> HttpResponse:
    """Everything we hold, narrowed and sorted by the address; the same columns as CSV or XLSX."""
    chosen = ThingFilter(request.GET, queryset=rows())
    found = lines(chosen.qs, chosen.anywhere, chosen.within) if chosen.form.is_valid() else lines(Item.objects.none())
    table = ThingTable(found, order_by=("called",))
    config = RequestConfig(request, paginate={"per_page": PER_PAGE, "paginator_class": LazyPaginator})
    form = request.GET.get("export")
    if form in {CSV, XLSX}:
        table.order_by = request.GET.getlist("sort") or table.order_by
        return table_response(table, form, "things")
    config.configure(table)
    return render(request, "inventory/things.html", {"table": table, "filter": chosen})


def the_item(code: str) -> Item:
    """The thing of this code, number or former number; 404 with a search link otherwise."""
    item = item_named(code)
    if item is None:
        raise Http404(code)
    return Item.objects.with_words().get(pk=item.pk)


@allow(*HOUSE)
def item(request: HttpRequest, code: str) -> HttpResponse:
    """One thing: where it is and on whose word, what it is, what was done with it."""
    thing = the_item(code)
    if thing.type.kind == Kind.CASE and thing.number and (address := _page_of("case", thing.number)):
        return redirect(address)
    page = {**item_context(thing, timezone.now()), "code": code}
    page["acts"] = acts_for(thing, role_of(request.user), faulty=bool(page["faults"]))
    if thing.type.kind == Kind.VEHICLE:
        page["vehicle_page"] = _page_of("vehicle", thing.number or code)
    if thing.type.kind == Kind.DRIVE:
        page |= content_context(thing, code, role_of(request.user), timezone.now())
    return render(request, "inventory/item.html", page)


def acts_for(thing: Item, role: str | None, *, faulty: bool) -> list[Act]:
    """What this role may do with it now; `faulty`: is a fault of it open?"""
    return [act for act in ACTS.values() if role in act.roles and act.fits(thing) and (faulty or not act.needs_fault)]


def item_context(thing: Item, at: datetime) -> dict[str, Any]:
    """What the page of a thing shows, whoever looks."""
    answer = whereabouts(thing, at)
    return {
        "item": thing,
        "answer": answer,
        "drawing": nested_boxes(answer) if answer.links else "",
        "faults": open_faults([thing], at).get(thing.pk, []),
        "facts": facts_of(thing),
        "history": history(thing, most=LINES),
        "labels": thing.labels.all(),
        "at": at,
    }


def _page_of(name: str, number: str) -> str:
    """The page that another app keeps for a case or a vehicle, if one does."""
    try:
        return reverse(name, args=[number])
    except NoReverseMatch:
        return ""


@allow(*HOUSE)
def photo(request: HttpRequest, hash: str) -> FileResponse:  # noqa: A002 - the address names it so
    kept = get_object_or_404(Photo, pk=hash)
    name = photos.path_of(kept.hash)
    if not default_storage.exists(name):
        raise Http404("This photo is named in the ledger, but its file is not here.")
    answer = FileResponse(default_storage.open(name), content_type=kept.content_type)
    answer["Cache-Control"] = "private, max-age=31536000, immutable"
    answer["X-Content-Type-Options"] = "nosniff"
    return answer


urlpatterns = [
    path("things/", things, name="things"),
    path("item/<str:code>/", item, name="item"),
    path("photo/<str:hash>/", photo, name="photo"),
]
