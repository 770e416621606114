"""Places as answers judge them: is it a store of ours, what is it part of, in whose hands."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from inventory.answers.values import Whereabouts
from inventory.models import Place, PlaceKind
from inventory.models.places import Purpose


@dataclass(frozen=True, slots=True)
class Room:
    """One place of a chain. `container`: the item it is the inside of. `store`: the store it is, or is part of."""

    id: int
    kind: str
    name: str
    ours: bool = False
    purpose: str = Purpose.STOCK
    container: int | None = None
    store: int | None = None
    store_name: str = ""
    person: str = ""
    person_is_ours: bool = True

    @property
    def is_store(self) -> bool:
        """A store of ours, or a shelf or room of one."""
        return self.ours and (self.kind == PlaceKind.SHELF or self.store is not None)


def room_of(place: Place) -> Room:
    """Expects parents, person and item to be loaded."""
    top = place
    while top.parent is not None and top.kind != PlaceKind.STORE:
        top = top.parent
    person = place.person
    return Room(
        id=place.pk,
        kind=place.kind,
        name=str(place.item) if place.item else place.name,
        ours=place.is_ours or top.is_ours,
        purpose=place.purpose,
        container=place.item_id,
        store=top.pk if top.kind == PlaceKind.STORE else None,
        store_name=top.name,
        person=person.name if person else "",
        person_is_ours=person is None or person.organisation is None or person.organisation.is_ours,
    )


def rooms_by_id(ids: Iterable[int]) -> dict[int, Room]:
    """These places as rooms, in one query. A room in a room in a store is as deep as places go."""
    around = ("parent__parent__parent", "person__organisation", "item__type")
    return {place.pk: room_of(place) for place in Place.objects.filter(pk__in=set(ids)).select_related(*around)}


def rooms_around(wheres: Iterable[Whereabouts]) -> dict[int, Room]:
    """Every place that any of these chains runs through."""
    return rooms_by_id(link.place.id for where in wheres for link in where.links if link.place)
