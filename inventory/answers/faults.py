"""Faults that were reported and not closed since. `mended` closes every open fault of its thing."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import datetime

from inventory.answers.loading import live
from inventory.models import Entry, Item, Verb


def open_faults(items: Iterable[Item | int], at: datetime) -> dict[int, list[Entry]]:
    """The entries that opened them, oldest first, by item id; things without an open fault are left out."""
    told = (
        live(at)
        .filter(label__item__in=list(items), verb__in=(Verb.FAULTED, Verb.MENDED))
        .select_related("label")
        .order_by("happened_at", "id")
    )
    found: dict[int, list[Entry]] = defaultdict(list)
    for entry in told:
        item = entry.label.item_id if entry.label else None
        if item is None:
            continue
        if entry.verb == Verb.MENDED:
            found[item].clear()
        else:
            found[item].append(entry)
    return {item: faults for item, faults in found.items() if faults}
