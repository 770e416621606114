"""What lies in which case, and what should: the rows under every list of contents."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from inventory.models import Holding, Item
from shipping.models import PackLine, Show


@dataclass(frozen=True, slots=True)
class Stowed:
    """One thing in a case (`depth` 0), or fitted in a thing in it (1 and more). Expected here, here, or both."""

    item: Item
    bay: str
    depth: int
    here: bool
    expected: bool


def stowed(cases: Sequence[Item], show: Show | None = None) -> dict[int, list[Stowed]]:
    """The rows of each case by its id, in the order of its bays, by present knowledge. A bounded number of queries."""
    inside = _inside(case.id for case in cases)
    expected = _expected(cases, show)
    return {case.id: _rows(case.id, inside, expected[case.id]) for case in cases}


def _inside(containers: Iterable[int]) -> dict[int, list[Holding]]:
    """What each container holds, at any depth, level by level."""
    found: dict[int, list[Holding]] = defaultdict(list)
    level = set(containers)
    while level:
        held = list(
            Holding.objects.filter(place__item__in=level)
            .select_related("item__type", "item__owner", "item__home_case", "item__home_set", "place")
            .prefetch_related("item__labels")
        )
        for holding in held:
            found[holding.place.item_id].append(holding)
        level = {holding.item_id for holding in held} - set(found)
    return found


def _expected(cases: Sequence[Item], show: Show | None) -> dict[int, list[Item]]:
    """What belongs in each case: by the show's plan where it has a line, else by home case."""
    found: dict[int, list[Item]] = {case.id: [] for case in cases}
    lines = PackLine.objects.filter(show=show) if show else PackLine.objects.none()
    planned = dict(lines.values_list("item_id", "case_id"))
    with_words = Item.objects.in_stock().with_words()
    for item in with_words.filter(home_case__in=found):
        if planned.get(item.id, item.home_case_id) == item.home_case_id:
            found[item.home_case_id].append(item)
    for item in with_words.filter(id__in=planned):
        if planned[item.id] in found and item not in found[planned[item.id]]:
            found[planned[item.id]].append(item)
    return found


def _rows(case_id: int, inside: dict[int, list[Holding]], expected: list[Item]) -> list[Stowed]:
    wanted = {item.id for item in expected}
    rows = list(_walk(case_id, inside, wanted, 0))
    here = {row.item.id for row in rows}
    return rows + [Stowed(item, "", 0, False, True) for item in expected if item.id not in here]


def _walk(container: int, inside: dict[int, list[Holding]], wanted: set[int], depth: int) -> Iterable[Stowed]:
    if depth > 4:  # deeper than any case, frame, sled; and a loop among holdings ends here
        return
    for holding in sorted(inside.get(container, []), key=lambda h: (h.bay or "~", str(h.item), h.item_id)):
        yield Stowed(holding.item, holding.bay, depth, True, depth > 0 or holding.item_id in wanted)
        yield from _walk(holding.item_id, inside, wanted, depth + 1)


def computed_kg(case: Item, rows: Sequence[Stowed]) -> Decimal | None:
    """Tare and what is in it; what is expected counts while nothing is packed yet. None while a mass is unknown."""
    container = getattr(case.type, "container", None)
    tare = container.tare_kg if container else None
    counted = [row for row in rows if row.here] or [row for row in rows if row.expected]
    masses = [row.item.type.mass_kg for row in counted]
    if tare is None or any(mass is None for mass in masses):
        return None
    return tare + sum(row.item.type.mass_kg * row.item.quantity for row in counted)


def code_of(item: Item) -> str:
    """The newest code in use; needs the labels fetched with the item."""
    labels = [label for label in item.labels.all() if label.retired_at is None] or list(item.labels.all())
    return labels[-1].code if labels else ""


def tail_of(item: Item) -> str:
    """The last six characters of the serial, or what stands for it."""
    if item.serial:
        return item.serial[-6:]
    return "unreadable" if item.serial_unreadable_since else ""


def hired_from(item: Item) -> str:
    return "" if item.owner.is_ours else item.owner.name
