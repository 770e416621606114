"""Places as answers judge them: is it a store of ours, what is it part of, in whose hands."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

from inventory.answers.values import Whereabouts
from inventory.models import Place, PlaceKind
from inventory.models.places import Purpose
from inventory.models.things import thing_words
from inventory.prepared import Asked, Prepared


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


class _Row(NamedTuple):
    """A place, with the thing it is the inside of and the person whose hands it is."""

    pk: int
    kind: str
    name: str
    ours: bool
    purpose: str
    parent: int | None
    person: str | None
    person_is_ours: bool | None
    item: int | None
    number: str | None
    item_name: str | None
    serial: str | None
    maker: str | None
    type_name: str | None


ROW = (
    "pk", "kind", "name", "is_ours", "purpose", "parent", "person__name", "person__organisation__is_ours",
    "item", "item__number", "item__name", "item__serial", "item__type__maker", "item__type__name",
)  # fmt: skip
PLACES = Prepared(lambda places: Place.objects.filter(pk__in=places).order_by().values_list(*ROW), places=Asked.IDS)


def rooms_by_id(ids: Iterable[int]) -> dict[int, Room]:
    """These places as rooms, in one query for each storey up to a store."""
    asked = set(ids)
    rows: dict[int, _Row] = {}
    todo = asked
    while todo:
        rows |= {row.pk: row for row in map(_Row._make, PLACES(places=todo))}
        todo = {row.parent for row in rows.values() if row.parent and row.kind != PlaceKind.STORE} - rows.keys()
    return {pk: _room(rows[pk], rows) for pk in asked if pk in rows}


def _room(row: _Row, rows: Mapping[int, _Row]) -> Room:
    top = row
    while top.parent is not None and top.kind != PlaceKind.STORE:
        top = rows[top.parent]
    is_store = top.kind == PlaceKind.STORE
    return Room(
        id=row.pk, kind=row.kind, name=_name(row), ours=row.ours or top.ours, purpose=row.purpose, container=row.item,
        store=top.pk if is_store else None, store_name=top.name, person=row.person or "",
        person_is_ours=row.person_is_ours is not False,
    )  # fmt: skip


def _name(row: _Row) -> str:
    """A place's own name; the inside of a thing goes by the thing's."""
    if row.item is None:
        return row.name
    return thing_words(row.number, row.item_name or "", row.maker or "", row.type_name or "", row.serial or "")


def rooms_around(wheres: Iterable[Whereabouts]) -> dict[int, Room]:
    """Every place that any of these chains runs through."""
    return rooms_by_id(link.place.id for where in wheres for link in where.links if link.place)
