"""Faults that were reported and not closed since. `mended` closes every open fault of its thing."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable
from datetime import datetime
from typing import NamedTuple, TypeVar
from uuid import UUID

from inventory.answers.loading import live
from inventory.models import Entry, Item, Verb
from inventory.prepared import Asked, Prepared

One = TypeVar("One")
TELLING = (Verb.FAULTED, Verb.MENDED)


class Told(NamedTuple):
    """What was told of a fault, as far as a verdict on its thing goes."""

    item: int
    verb: str
    id: UUID
    at: datetime
    by: str
    note: str
    condition: str


TOLD = Prepared(
    lambda items, at: live(at).filter(label__item__in=items, verb__in=TELLING).order_by("happened_at", "id")
    .values_list("label__item_id", "verb", "id", "happened_at", "by", "note", "condition"),
    items=Asked.TOLD_THINGS, at=Asked.MOMENT,
)  # fmt: skip


def open_faults(items: Iterable[Item | int], at: datetime) -> dict[int, list[Entry]]:
    """The entries that opened them, oldest first, by item id; things without an open fault are left out."""
    found = live(at).filter(label__item__in=list(items), verb__in=TELLING).select_related("label")
    entries = found.order_by("happened_at", "id")
    return _still_open((entry.label.item_id, entry.verb, entry) for entry in entries if entry.label)


def faults_told(items: Collection[int], at: datetime) -> dict[int, list[Told]]:
    """The same as rows."""
    return _still_open((row.item, row.verb, row) for row in map(Told._make, TOLD(items=items, at=at)))


def _still_open(told: Iterable[tuple[int | None, str, One]]) -> dict[int, list[One]]:
    """What was told of each thing since it was last mended, of rows in their order."""
    found: dict[int, list[One]] = defaultdict(list)
    for item, verb, row in told:
        if item is None:
            continue
        if verb == Verb.MENDED:
            found[item].clear()
        else:
            found[item].append(row)
    return {item: faults for item, faults in found.items() if faults}
