"""How answers say places and witnesses: short words for a tired person. Times are left to whoever shows them."""

from __future__ import annotations

from inventory.answers.book import Book
from inventory.answers.values import Evidence, ItemRef, Link, Strength
from inventory.models import Item

GRADES = {"scan": "scanned", "tick": "ticked by eye", "said": "said", "import": "imported"}


def item_ref(item: Item, code: str) -> ItemRef:
    return ItemRef(item.pk, code, item.number or "", item.called, item.serial)


def place_words(book: Book, place: int) -> str:
    """A place with its preposition: in HER-04 · on Teasel · at Mill Yard · with Jo Marlow."""
    spot = book.spots[place]
    name = spot.ref.name
    if spot.item is not None:
        return f"{'on' if book.things[spot.item].kind == 'vehicle' else 'in'} {name}"
    if spot.ref.kind == "gone":
        return "gone for good"
    if spot.ref.kind == "road":
        return f"on the road ({name})"
    where = f"{name}, {spot.parent}" if spot.parent else name
    return {"person": f"with {name}", "shelf": f"on {where}", "room": f"in {where}"}.get(spot.ref.kind, f"at {where}")


def witness_words(link: Link, seen: Evidence | None) -> str:
    """Strength, seal, who, how: 'sealed in · seal 004470 · scanned by Ana Rell'."""
    if seen is None:
        return "planned only, nobody has placed it" if link.strength == Strength.PLANNED_ONLY else link.strength.value
    parts = [link.strength.value]
    if link.seal:
        parts.append(f"seal {link.seal}")
    parts.append(f"{GRADES.get(seen.grade, seen.grade)} by {seen.by}")
    if seen.stated:
        parts.append("at a stated time")
    if seen.clock_doubtful:
        parts.append("by a doubtful clock")
    return " · ".join([*parts, *filter(None, [link.remark])])
