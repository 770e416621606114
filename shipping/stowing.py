"""Putting things into a case and taking them out, at the desk or the bench."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.db import transaction

from inventory.ledger import Fact, Witness, record
from inventory.models import Entry, Grade, Holding, Item, Kind, Place, Verb
from inventory.registering import inside_of
from shipping.models import Show
from shipping.sealing import hold_case, next_moment, sealed_with

MOST_AT_ONCE = 200


class StowRefusal(ValueError):
    """What was asked for cannot be. Carries a sentence to show."""


def _open_case(case: Item, at: datetime) -> None:
    if number := sealed_with(case, at):
        raise StowRefusal(f"{case} is sealed with {number}. Break the seal first, and say why.")


def _check(case: Item, item: Item, bay: str) -> None:
    if not hasattr(case.type, "container"):
        raise StowRefusal(f"{case} holds nothing: it is no case.")
    if item.pk == case.pk:
        raise StowRefusal(f"{case} cannot be packed into itself.")
    if item.type.kind == Kind.VEHICLE:
        raise StowRefusal(f"{item} is a vehicle.")
    if item.retired_at:
        raise StowRefusal(f"{item} is retired. If it is back in use, take that back first.")
    labels = [part.label for part in case.type.container.compartments.all()]
    if bay and labels and bay not in labels:
        raise StowRefusal(f"{case} has no slot {bay}. Its slots: {', '.join(labels)}.")


def _is_inside(inner: Item, outer: Item) -> bool:
    """Is the one somewhere inside the other by the book, at any depth?"""
    seen: set[int] = set()
    around = inner.pk
    while around not in seen:
        seen.add(around)
        holding = Holding.objects.filter(item=around).select_related("place").first()
        if holding is None or holding.place is None or holding.place.item_id is None:
            return False
        around = holding.place.item_id
        if around == outer.pk:
            return True
    return False


@transaction.atomic
def pack(
    items: Iterable[Item], case: Item, *, by: Witness, at: datetime, bay: str = "", show: Show | None = None,
    grade: str = Grade.TICK,
) -> list[Entry]:  # fmt: skip
    """Put things into a case that stands open. What the rules think of it shows on the case's page."""
    wanted = list(items)
    if not wanted or len(wanted) > MOST_AT_ONCE:
        raise StowRefusal(f"Name one to {MOST_AT_ONCE} things to pack.")
    hold_case(case)
    at = next_moment(case, at)
    _open_case(case, at)
    for item in wanted:
        _check(case, item, bay)
        if _is_inside(case, item):
            raise StowRefusal(f"{case} is inside {item}: it cannot hold it as well.")
    place, reference = inside_of(case), show.code if show else ""
    facts = [Fact(Verb.PACKED, item, place=place, bay=bay, grade=grade, reference=reference) for item in wanted]
    return record(facts, by=by, at=at)


@transaction.atomic
def take_out(
    item: Item, case: Item, *, by: Witness, at: datetime, to: Place | None = None, note: str = "",
    grade: str = Grade.TICK,
) -> Entry:  # fmt: skip
    """Take a thing out of a case that stands open; without a place it lies where the case is."""
    hold_case(case)
    at = next_moment(case, at)
    _open_case(case, at)
    if not _is_inside(item, case):
        raise StowRefusal(f"{item} is not in {case} by the book.")
    around = Holding.objects.filter(item=case).select_related("place").first()
    to = to or (around.place if around else None)
    if to is None:
        raise StowRefusal(f"Nobody has said where {case} is. Say where {item} goes.")
    return record([Fact(Verb.PULLED, item, place=to, note=note, grade=grade)], by=by, at=at)[0]
