"""Where is…: type anything, get a sentence with its evidence and its age."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path, reverse
from django.utils import timezone

from inventory.access import ANYONE, allow, role_of
from inventory.answers.drive_loading import book_for
from inventory.answers.registry import references_of
from inventory.answers.search import Hit, Named, is_sure, search
from inventory.answers.whereabouts import whereabouts_of
from inventory.answers.wiping import drives_of_set, open_book
from inventory.models import ClientReference, DriveSet, Holding, Item, Person, Role
from inventory.views.things import item_context

# Where each kind of find is looked at further; an app adds its own.
ADDRESSES: dict[str, Callable[[Named], str]] = {
    "item": lambda named: reverse("item", args=[Item.objects.get(pk=named.key).labels.first().code]),
    "drive set": lambda named: reverse("drive-set", args=[named.key]),
    "system": lambda named: reverse("system", args=[named.key]),
    "place": lambda named: reverse("place", args=[named.key]),
}
HELD = 60


@allow(*ANYONE)
def where(request: HttpRequest) -> HttpResponse:
    """The best meaning answered at once; the others offered below it."""
    text, at = request.GET.get("q", "").strip(), timezone.now()
    hits = search(text, allowed=_own_only(request))
    chosen = request.GET.get("as", "")
    best = next((hit for hit in hits if f"{hit.named.kind}:{hit.named.key}" == chosen), None)
    if best is None and is_sure(hits):
        best = hits[0]
    page = {"query": text, "others": [_offer(hit) for hit in hits if hit is not best], "best": best}
    if best is not None:
        page |= {"address": _address(best.named), **_answer(best.named, at)}
    return render(request, "inventory/where.html", page)


def _own_only(request: HttpRequest) -> Callable[[Named], bool] | None:
    """A client finds only what was on the shows that are theirs."""
    if role_of(request.user) != Role.CLIENT:
        return None
    person = getattr(request.user, "person", None)
    mine = set(ClientReference.objects.filter(person=person).values_list("reference", flat=True))

    def allowed(named: Named) -> bool:
        if named.kind == "item":
            return bool(mine & references_of(Item.objects.get(pk=named.key)))
        if named.kind == "drive set":
            return (
                Item.objects.filter(
                    labels__entries__drive_set__slug=named.key, labels__entries__reference__in=mine
                ).exists()
                or DriveSet.objects.filter(slug=named.key, entries__reference__in=mine).exists()
            )
        return named.kind == "show" and named.key in mine

    return allowed


def _address(named: Named) -> str:
    address = ADDRESSES.get(named.kind)
    return address(named) if address is not None else ""


def _offer(hit: Hit) -> dict[str, str]:
    return {"words": hit.named.words, "detail": hit.named.detail, "as": f"{hit.named.kind}:{hit.named.key}"}


def _answer(named: Named, at: datetime) -> dict[str, object]:
    answers = {"item": _of_item, "drive set": _of_set, "person": _of_person}
    return answers.get(named.kind, _of_other)(named, at)


def _of_item(named: Named, at: datetime) -> dict[str, object]:
    return item_context(Item.objects.with_words().get(pk=named.key), at)


def _of_set(named: Named, at: datetime) -> dict[str, object]:
    """Every drive that is of the set or still holds what the set recorded, by the place where it is."""
    drive_set = DriveSet.objects.get(slug=named.key)
    drives = drives_of_set(open_book(book_for(sets=[drive_set.pk]), at), drive_set.pk)
    found = whereabouts_of(drives, at)
    groups: dict[str, list[object]] = {}
    for answer in found.values():
        groups.setdefault(_place_words(answer), []).append(answer)
    parts = [f"{len(answers)} {where}" for where, answers in sorted(groups.items(), key=lambda g: -len(g[1]))]
    many = f"{drive_set} is {len(drives)} drives: " if parts else f"{drive_set} has no drives."
    return {"sentence": many + "; ".join(parts) + ("." if parts else ""), "drives": list(found.values())}


def _place_words(answer) -> str:  # noqa: ANN001 - a Whereabouts
    """ "in HER-04, on Teasel" of "HERON-2 A 71B04K is in HER-04, A, on Teasel, at Fjellmark Hall."."""
    places = [link.place.name.removeprefix("inside ") for link in answer.links if link.place is not None]
    return "in " + ", ".join(places[:3]) if places else "nobody has said where"


def _of_person(named: Named, at: datetime) -> dict[str, object]:
    person = Person.objects.get(pk=named.key)
    held = Holding.objects.filter(place__person=person).select_related("item__type")
    things = [holding.item for holding in held[:HELD]]
    words = f"{person} holds {held.count()} thing{'' if held.count() == 1 else 's'}."
    return {"sentence": words + (f" Phone {person.phone}." if person.phone else ""), "held": things}


def _of_other(named: Named, at: datetime) -> dict[str, object]:
    return {"sentence": f"{named.words}: {named.detail}."}


urlpatterns = [path("where/", where, name="where")]
