"""Where is…: type anything, get a sentence with its evidence and its age."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Mapping, Sequence
from datetime import datetime

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path, reverse
from django.utils import timezone

from inventory import where_answers
from inventory.access import ANYONE, allow, role_of
from inventory.answers.day_names import day_meant
from inventory.answers.likely_loading import UNSURE, where_to_look
from inventory.answers.loading import live
from inventory.answers.search import Allowed, Hit, Meant, Named, NearOf, is_sure, near_to, search
from inventory.client_drives import references_of
from inventory.drawings.nested import boxes_together
from inventory.models import DriveSet, Item, Kind, Person, Role
from inventory.own_drive import content_summary
from inventory.telling_apart import apart
from inventory.views.things import item_context
from inventory.where_answers import DrivesAnswer

MOST_DRAWN = 6
QUESTION = re.compile(r"^\s*where('s|\s+is|\s+are)\s*(…|\.\.\.)?\s|[\s?]+$", re.IGNORECASE)
# Where each kind of find is looked at further; an app adds its own.
ADDRESSES: dict[str, Callable[[Named], str]] = {
    "item": lambda named: reverse("item", args=[Item.objects.get(pk=named.key).labels.first().code]),
    "drive set": lambda named: reverse("drive-set", args=[named.key]),
    "system": lambda named: reverse("system", args=[named.key]),
    "place": lambda named: reverse("place", args=[named.key]),
}


@allow(*ANYONE)
def where(request: HttpRequest) -> HttpResponse:
    """The best meaning answered at once; the others offered below it."""
    text, at = _asked(request.GET.get("q", "")), timezone.now()
    day = day_meant(text, timezone.localdate(at))
    if day is not None:
        shows = where_answers.of_day(day, at, _references(request))
        found = [(show, _drives(told)) for show, told in shows]
        return render(request, "inventory/where_day.html", {"query": text, "day": day, "shows": found})
    hits = search(text, allowed=_own_only(request), near=_near(request, at))
    chosen = request.GET.get("as", "")
    best = next((hit for hit in hits if f"{hit.named.kind}:{hit.named.key}" == chosen), None)
    if best is None and is_sure(hits):
        best = hits[0]
    page = {"query": text, "others": _offers([hit for hit in hits if hit is not best]), "best": best}
    page["near_first"] = any(other["near"] for other in page["others"])
    if best is not None:
        page |= {"address": _address(best.named), **_answer(best.named, at)}
    return render(request, "inventory/where.html", page)


def _asked(text: str) -> str:
    """What is looked for, where the box's own words were typed along: `where is HER-03?`."""
    return QUESTION.sub("", text).strip() or text.strip()


def _references(request: HttpRequest) -> set[str] | None:
    """The shows that a client may see; None for everybody else, who see all."""
    if role_of(request.user) != Role.CLIENT:
        return None
    return set(references_of(getattr(request.user, "person", None)))


def _own_only(request: HttpRequest) -> Allowed | None:
    """A client finds only what was on the shows that are theirs; two queries, whatever is found."""
    mine = _references(request)
    if mine is None:
        return None
    told = live().filter(reference__in=mine)

    def allowed(found: Collection[Named]) -> set[Meant]:
        items = [named.key for named in found if named.kind == "item"]
        sets = [named.key for named in found if named.kind == "drive set"]
        of_items = told.filter(label__item__in=items).values_list("label__item", flat=True)
        of_sets = told.filter(drive_set__slug__in=sets).values_list("drive_set__slug", flat=True)
        own = (("item", of_items.distinct()), ("drive set", of_sets.distinct()), ("show", mine))
        return {(kind, key) for kind, keys in own for key in keys}

    return allowed


def _near(request: HttpRequest, at: datetime) -> NearOf | None:
    """What is wanted now comes first for the house; to a client it would tell of other people's shows."""
    if role_of(request.user) == Role.CLIENT:
        return None
    return near_to(getattr(request.user, "person", None), at)


def _address(named: Named) -> str:
    address = ADDRESSES.get(named.kind)
    return address(named) if address is not None else ""


def _offers(hits: Sequence[Hit]) -> list[dict[str, str]]:
    """Each other meaning in a line of its own; of alike things, what sets each apart."""
    marks = apart([int(hit.named.key) for hit in hits if hit.named.kind == "item"])
    return [
        {
            "words": hit.named.words,
            "detail": _detail(hit.named, marks),
            "as": f"{hit.named.kind}:{hit.named.key}",
            "near": hit.near.words if hit.near else "",
        }
        for hit in hits
    ]


def _detail(named: Named, marks: Mapping[int, str]) -> str:
    told = marks.get(named.key, named.detail) if named.kind == "item" else named.detail
    return " ".join(filter(None, (named.why, told)))


def _answer(named: Named, at: datetime) -> dict[str, object]:
    answers = {"item": _of_item, "drive set": _of_set, "person": _of_person, "show": _of_show}
    return answers.get(named.kind, _of_other)(named, at)


def _of_item(named: Named, at: datetime) -> dict[str, object]:
    """Where it is; where to look if that is not known; and for a drive what is on it."""
    item = Item.objects.with_words().get(pk=named.key)
    page = item_context(item, at)
    answer = page["answer"]
    page["next"] = list(dict.fromkeys(reason.way_out for reason in answer.reasons if reason.way_out))[:2]
    if answer.strength in UNSURE:
        page["looks"] = where_to_look(item, at).looks
    if item.type.kind == Kind.DRIVE:
        page["card"] = content_summary(item, at)
    return page


def _drives(told: DrivesAnswer) -> dict[str, object]:
    chains = boxes_together([line.seen for line in told.drives])[:MOST_DRAWN]
    return {"sentence": told.sentence, "drives": told.drives, "next": told.next, "holders": told.holders,
            "chains": chains}  # fmt: skip


def _of_set(named: Named, at: datetime) -> dict[str, object]:
    return _drives(where_answers.of_set(DriveSet.objects.get(slug=named.key), at))


def _of_show(named: Named, at: datetime) -> dict[str, object]:
    return _drives(where_answers.of_show(str(named.key), at))


def _of_person(named: Named, at: datetime) -> dict[str, object]:
    return where_answers.of_person(Person.objects.get(pk=named.key), at)


def _of_other(named: Named, at: datetime) -> dict[str, object]:
    return {"sentence": f"{named.words}: {named.detail}."}


urlpatterns = [path("where/", where, name="where")]
