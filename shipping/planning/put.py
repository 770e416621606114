"""Things as the rules name them, each with where it is by the book: a row each, read without the models behind it."""

from __future__ import annotations

from collections.abc import Collection
from decimal import Decimal
from typing import NamedTuple

from inventory.answers.refs import NAMED
from inventory.models import Item
from inventory.models.things import thing_words
from inventory.prepared import Asked, Prepared
from shipping.planning.rows import where_words


class Put(NamedTuple):
    """One thing and the place of its holding; `holder` is what that place is the inside of, and what it is named by."""

    pk: int
    number: str | None
    name: str
    serial: str
    maker: str
    type_name: str
    type_id: int
    kind: str
    mass_kg: Decimal | None
    place: int | None
    place_kind: str | None
    place_name: str | None
    holder: int | None
    holder_number: str | None
    holder_name: str | None
    holder_maker: str | None
    holder_type: str | None
    holder_serial: str | None

    @property
    def words(self) -> str:
        return thing_words(self.number, self.name, self.maker, self.type_name, self.serial)

    @property
    def where(self) -> str:
        """As `rows.place_words` says it."""
        if self.place is None:
            return ""
        named = self.holder_name or "", self.holder_maker or "", self.holder_type or "", self.holder_serial or ""
        holder = thing_words(self.holder_number, *named) if self.holder is not None else ""
        return where_words(self.place_kind or "", self.place_name or "", holder)


COLUMNS = (
    *NAMED, "type_id", "type__kind", "type__mass_kg",
    "holding__place_id", "holding__place__kind", "holding__place__name", "holding__place__item_id",
    "holding__place__item__number", "holding__place__item__name", "holding__place__item__type__maker",
    "holding__place__item__type__name", "holding__place__item__serial",
)  # fmt: skip
PUT = Prepared(lambda items: Item.objects.filter(pk__in=items).order_by("pk").values_list(*COLUMNS), items=Asked.IDS)


def put(items: Collection[int]) -> list[Put]:
    """These things in the order of their keys, in one query."""
    return [Put._make(row) for row in PUT(items=items)]
