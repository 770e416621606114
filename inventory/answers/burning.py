"""If this vehicle burns tonight: which content exists nowhere else, and what everything in it costs new."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from inventory.answers.keeping import Kept, kept_on
from inventory.models import Holding, Item, Kind, Place

MOST = 4000


@dataclass(frozen=True, slots=True)
class AtRisk:
    """Content of one show on drives in the vehicle. `safe`: confirmed copies outside, of the drive with fewest."""

    reference: str
    serials: tuple[str, ...]
    safe: int

    @property
    def only_here(self) -> bool:
        return not self.safe


@dataclass(frozen=True, slots=True)
class Burning:
    """One vehicle now: where it stands, what it would cost, and the content in it."""

    vehicle: Item
    stands: str
    things: int
    values: tuple[tuple[str, Decimal], ...]
    unpriced: int
    content: tuple[AtRisk, ...]

    @property
    def lost(self) -> tuple[AtRisk, ...]:
        return tuple(one for one in self.content if one.only_here)

    @property
    def sentence(self) -> str:
        sums = " and ".join(f"{value:,.0f} {currency}".strip() for currency, value in self.values) or "nothing priced"
        more = f", and {self.unpriced} things without a price" if self.unpriced else ""
        shows = ", ".join(one.reference for one in self.lost)
        content = f"Content that exists nowhere else: {shows}." if shows else "No content exists only in it."
        return f"{content} {self.things} things, {sums}{more}."


def burning(vehicles: Collection[Item], at: datetime) -> list[Burning]:
    """Each vehicle with something in it; those that carry only copies first."""
    loads = {one.pk: _load(one) for one in vehicles}
    drives = [row.item_id for rows, _ in loads.values() for row in rows if row.item.type.kind == Kind.DRIVE]
    kept = kept_on(drives, at)
    found = [_of(one, *loads[one.pk], kept) for one in vehicles if loads[one.pk][0]]
    return sorted(found, key=lambda one: (not one.lost, str(one.vehicle)))


def _load(vehicle: Item) -> tuple[list[Holding], set[int]]:
    """What is in it at any depth, and every place in it."""
    inside = Place.objects.filter(item=vehicle).first()
    if inside is None:
        return [], set()
    places = set(Place.objects.within(inside).values_list("pk", flat=True))
    rows = Holding.objects.filter(place__in=places, item__retired_at=None).select_related("item__type")
    return list(rows.order_by("pk")[:MOST]), places


def _of(vehicle: Item, rows: list[Holding], places: set[int], kept: Collection[Kept]) -> Burning:
    values: dict[str, Decimal] = defaultdict(Decimal)
    unpriced = 0
    for row in rows:
        price = row.item.type.replacement_value
        if price is None:
            unpriced += 1
        else:
            values[row.item.type.currency] += price * row.item.quantity
    inside = {row.item_id for row in rows}
    holding = getattr(vehicle, "holding", None)
    stands = str(holding.place) if holding and holding.place else "nobody said where"
    content = _content([one for one in kept if one.drive.id in inside], inside, places)
    return Burning(vehicle, stands, len(rows), tuple(sorted(values.items())), unpriced, content)


def _content(kept: Iterable[Kept], inside: set[int], places: set[int]) -> tuple[AtRisk, ...]:
    """By show: the drives in here that hold it, and the fewest confirmed copies outside that cover any piece."""
    serials: dict[str, set[str]] = defaultdict(set)
    safe: dict[str, int] = {}
    for one in kept:
        outside = sum(copy.place not in places and copy.on_drive not in inside for copy in one.copies)
        safe[one.reference] = min(safe.get(one.reference, outside), outside)
        serials[one.reference].add(one.drive.serial or one.drive.words)
    return tuple(AtRisk(name, tuple(sorted(serials[name])), safe[name]) for name in sorted(safe, key=safe.__getitem__))
