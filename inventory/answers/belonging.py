"""Which drive set each drive belongs to, and for which bay: by its newest `joined` or `dropped`."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime

from inventory.answers.loading import live
from inventory.models import DriveSet, Verb


def belonging(drives: Collection[int], at: datetime) -> dict[int, tuple[DriveSet | None, str]]:
    """Set and bay by drive; (None, "") for one that was dropped. A drive that never joined any is left out."""
    entries = live(at).filter(label__item__in=drives, verb__in=(Verb.JOINED, Verb.DROPPED), drive_set__isnull=False)
    ordered = entries.select_related("drive_set", "label").order_by("happened_at", "id")
    found: dict[int, tuple[DriveSet | None, str]] = {}
    for entry in ordered:
        if entry.label is not None and entry.label.item_id is not None:
            found[entry.label.item_id] = (entry.drive_set, entry.bay) if entry.verb == Verb.JOINED else (None, "")
    return found


def ever_in(sets: Collection[DriveSet], at: datetime) -> set[int]:
    """Every drive that joined one of these sets, whether or not it is still in it."""
    joined = live(at).filter(verb=Verb.JOINED, drive_set__in=sets)
    return {pk for pk in joined.values_list("label__item_id", flat=True) if pk is not None}
