"""New things and changed things, from a person's hand: the row, its code, its first place, its former numbers."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import transaction

from inventory import codes, handling, ledger
from inventory.ledger import LedgerRefusal, Witness
from inventory.models import Entry, Item, ItemAlias, ItemType, Label, Place
from inventory.naming import code_in, label_named
from inventory.registering import label_kind, register


@transaction.atomic
def add(
    item_type: ItemType, *, by: Witness, at: datetime, code: str = "", place: Place | None = None, **fields: Any
) -> Item:
    """Write a new thing into the book, on a blank label's code or a new one, and where it is if that is known."""
    label = _blank(code) if code.strip() else None
    item = register(item_type, at=at, **fields) if label is None else _on_label(item_type, label, at, fields)
    if place is not None:
        handling.put([item], place, by=by, at=at)
    return item


def _on_label(item_type: ItemType, label: Label, at: datetime, fields: dict[str, Any]) -> Item:
    item = register(item_type, at=at, **fields)
    item.labels.all().delete()  # the code just drawn was never printed
    ledger.adopt(label, item, at=at)
    return item


def _blank(code: str) -> Label:
    """The blank or never bound label with this code. Raises LedgerRefusal with a sentence."""
    label = label_named(code)
    if label is None:
        raise LedgerRefusal(f"“{code_in(code)}” is no code of ours. Type it from the label, letter by letter.")
    if label.item is not None:
        raise LedgerRefusal(f"{label.code} is on {label.item} already, for ever. Take another blank label.")
    return label


@transaction.atomic
def give_label(item: Item, *, at: datetime, code: str = "") -> Label:
    """One more code for a thing: a blank label's, or a new one to print. Old codes keep leading to it."""
    if code.strip():
        return ledger.adopt(_blank(code), item, at=at)
    return codes.issue([item], at=at, kind=label_kind(item.type))[0]


@transaction.atomic
def change(item: Item, reason: str, *, by: Witness, at: datetime, **changes: Any) -> list[Entry]:
    """Change a thing's row with its reason. A number it loses leads to it for ever."""
    old = Item.objects.get(pk=item.pk).number
    if "number" in changes and old and changes["number"] != old:
        ItemAlias.objects.get_or_create(number=old, defaults={"item": item, "since": at})
        ItemAlias.objects.filter(number=changes["number"] or "", item=item).delete()
    return ledger.amend(item, reason, by=by, at=at, **changes)
