"""Things that lie about: in no container by the book, and so perhaps in the wrong one."""

from __future__ import annotations

from django.db.models import Q

from inventory.models import Item
from inventory.models.places import PlaceKind
from shipping.packing.facts import Case, Expected
from shipping.planning.pieces import name_of
from shipping.planning.rows import place_words

MOST = 40


def loose_near(case: Item, about: Case) -> tuple[Expected, ...]:
    """What of this case's system is in no case by the book, or has no place at all: it may be in here."""
    if case.home_system_id is None:
        return ()
    known = {piece.id for piece in about.pieces} | {one.id for one in about.missing}
    free = Q(holding=None) | Q(holding__place=None) | ~Q(holding__place__kind__in=(PlaceKind.INSIDE, PlaceKind.GONE))
    found = Item.objects.in_stock().filter(free, home_system=case.home_system_id, type__container=None)
    found = found.exclude(pk__in=known).exclude(type__mass_kg=None).select_related("type", "holding__place__item__type")
    return tuple(_expected(item) for item in found.order_by("-type__mass_kg", "pk")[:MOST])


def _expected(item: Item) -> Expected:
    where = place_words(getattr(item, "holding", None))
    return Expected(item.pk, name_of(item), where, item.type.mass_kg, item.type.kind)
