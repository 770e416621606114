"""Rows as answers name them."""

from __future__ import annotations

from collections.abc import Collection

from inventory.answers.values import ItemRef
from inventory.models import Item, Label
from inventory.models.catalogue import type_words
from inventory.models.things import called_by
from inventory.prepared import Asked, Prepared, Rows

# What a thing is named by: pass these columns of an Item to `ref_of`, after the code.
NAMED = ("pk", "number", "name", "serial", "type__maker", "type__name")

REFS = Prepared(lambda items: Item.objects.filter(pk__in=items).order_by().values_list(*NAMED), items=Asked.IDS)
CODES = Prepared(
    lambda items: Label.objects.filter(item__in=items).order_by("pk").values_list("item", "code", "retired_at"),
    items=Asked.IDS,
)  # fmt: skip


def item_ref(item: Item) -> ItemRef:
    """Expects type and labels to be loaded; the newest code in use stands for the item."""
    return ItemRef(item.pk, item.code, item.number or "", item.called, item.serial)


def ref_of(code: str, pk: int, number: str | None, name: str, serial: str, maker: str, kind: str) -> ItemRef:
    """The same from a row of these columns."""
    return ItemRef(pk, code, number or "", called_by(name or type_words(maker, kind), serial), serial)


def refs_of(items: Collection[int]) -> dict[int, ItemRef]:
    """The same of many by their keys, in two queries."""
    codes = codes_of(items)
    return {row[0]: ref_of(codes.get(row[0], ""), *row) for row in REFS(items=items)}


def codes_of(items: Collection[int]) -> dict[int, str]:
    """The newest code in use of each, else the newest of all."""
    return code_in(CODES(items=items))


def code_in(rows: Rows) -> dict[int, str]:
    """The same read off rows of CODES."""
    retired = {item: code for item, code, retired_at in rows if retired_at}
    return retired | {item: code for item, code, retired_at in rows if not retired_at}
