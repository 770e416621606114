"""If this vehicle burns: which content exists nowhere else, and what everything in it costs new."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from inventory.answers.aboard import Load, loads_of
from inventory.answers.keeping import Kept, kept_on
from inventory.answers.loading import placings_of
from inventory.models import Item, Kind

Sums = tuple[tuple[str, Decimal], ...]


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
    """One vehicle at a moment: where it stands, the content in it, and what it carries costs new.

    `values`: by currency, what the things cost new as entered, lots by their quantity; `others` how much of it
    belongs to somebody else. `planned`: how many cases are reckoned in that are not in it yet.
    """

    vehicle: Item
    stands: str
    things: int
    values: Sums
    others: Sums
    unpriced: int
    content: tuple[AtRisk, ...]
    planned: int = 0

    @property
    def lost(self) -> tuple[AtRisk, ...]:
        return tuple(one for one in self.content if one.only_here)

    @property
    def sentence(self) -> str:
        shows = ", ".join(one.reference for one in self.lost)
        content = f"Content that exists nowhere else: {shows}." if shows else "No content exists only in it."
        return f"{content} To buy it new costs {self.worth}: {self.things} things{self.without}."

    @property
    def worth(self) -> str:
        return in_words(self.values) or "nothing priced"

    @property
    def of_others(self) -> str:
        return in_words(self.others)

    @property
    def without(self) -> str:
        return f", {self.unpriced} of them without a price" if self.unpriced else ""


def in_words(sums: Sums) -> str:
    return " and ".join(f"{value:,.0f} {currency}".strip() for currency, value in sums)


def burning(
    vehicles: Collection[Item], at: datetime, planned: Mapping[int, Collection[int]] | None = None
) -> list[Burning]:
    """Each vehicle with something in it at `at`, or planned for it; those that carry only copies first."""
    loads = loads_of([one.pk for one in vehicles], at)
    to_come = {pk: set(cases) - loads[pk].things for pk, cases in (planned or {}).items() if pk in loads}
    if any(to_come.values()):
        loads = loads_of(loads, at, to_come)
    items = _items(loads.values())
    kept = kept_on([pk for pk, item in items.items() if item.type.kind == Kind.DRIVE], at)
    stands = _stand(vehicles, at)
    found = [
        _of(one, stands.get(one.pk, ""), loads[one.pk], items, kept, len(to_come.get(one.pk, ())))
        for one in vehicles
        if loads[one.pk].things
    ]
    return sorted(found, key=lambda one: (not one.lost, str(one.vehicle)))


def _items(loads: Iterable[Load]) -> dict[int, Item]:
    things = {pk for load in loads for pk in load.things}
    return {item.pk: item for item in Item.objects.filter(pk__in=things).select_related("type", "owner")}


def _stand(vehicles: Collection[Item], at: datetime) -> dict[int, str]:
    """Where each vehicle itself was put last."""
    book = placings_of([one.pk for one in vehicles], at)
    return {pk: book.spots[row.place].ref.name for pk, row in book.holders().items() if row.place is not None}


def _of(  # noqa: PLR0913
    vehicle: Item, stands: str, load: Load, items: Mapping[int, Item], kept: Iterable[Kept], planned: int
) -> Burning:
    mine = [items[pk] for pk in sorted(load.things)]
    unpriced = sum(item.type.replacement_value is None for item in mine)
    content = _content([one for one in kept if one.drive.id in load.things], load)
    others = _sums(item for item in mine if not item.owner.is_ours)
    return Burning(vehicle, stands, len(mine), _sums(mine), others, unpriced, content, planned)


def _sums(items: Iterable[Item]) -> Sums:
    values: dict[str, Decimal] = defaultdict(Decimal)
    for item in items:
        if item.type.replacement_value is not None:
            values[item.type.currency] += item.type.replacement_value * item.quantity
    return tuple(sorted(values.items()))


def _content(kept: Iterable[Kept], load: Load) -> tuple[AtRisk, ...]:
    """By show: the drives in here that hold it, and the fewest confirmed copies outside that cover any piece."""
    serials: dict[str, set[str]] = defaultdict(set)
    safe: dict[str, int] = {}
    for one in kept:
        outside = sum(copy.place not in load.places and copy.on_drive not in load.things for copy in one.copies)
        safe[one.reference] = min(safe.get(one.reference, outside), outside)
        serials[one.reference].add(one.drive.serial or one.drive.words)
    return tuple(AtRisk(name, tuple(sorted(serials[name])), safe[name]) for name in sorted(safe, key=safe.__getitem__))
