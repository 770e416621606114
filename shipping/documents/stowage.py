"""What lies in which case, and what should: the rows under every list of contents."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from inventory.models import Holding, Item


@dataclass(frozen=True, slots=True)
class Stowed:
    """One thing in a case (`depth` 0), or fitted in a thing in it (1 and more). Expected here, here, or both."""

    item: Item
    bay: str
    depth: int
    here: bool
    expected: bool


def in_bay_order(held: Iterable[Holding]) -> list[Holding]:
    return sorted(held, key=lambda one: (one.bay or "~", str(one.item), one.item_id))


def walk(container: int, inside: Mapping[int, Sequence[Holding]], wanted: set[int], depth: int = 0) -> Iterable[Stowed]:
    """Everything in a container, in the order of its bays, what is fitted in a thing right after it."""
    if depth > 4:  # deeper than any case, frame, sled; and a loop among holdings ends here
        return
    for holding in inside.get(container, ()):
        yield Stowed(holding.item, holding.bay, depth, True, depth > 0 or holding.item_id in wanted)
        yield from walk(holding.item_id, inside, wanted, depth + 1)


def counted(rows: Sequence[Stowed]) -> list[Stowed]:
    """What a case weighs and is worth by: what is in it, or what is expected while nothing is packed yet."""
    return [row for row in rows if row.here] or [row for row in rows if row.expected]


def computed_kg(case: Item, rows: Sequence[Stowed]) -> Decimal | None:
    """Tare and what is in it; what is expected counts while nothing is packed yet. None while a mass is unknown."""
    container = getattr(case.type, "container", None)
    tare = container.tare_kg if container else None
    held = counted(rows)
    masses = [row.item.type.mass_kg for row in held]
    if tare is None or any(mass is None for mass in masses):
        return None
    return tare + sum(row.item.type.mass_kg * row.item.quantity for row in held)


POUND_KG = Decimal("0.45359237")  # exact, by the international yard and pound agreement of 1959


def mass_words(mass_kg: Decimal | None) -> str:
    """Kilograms and pounds, whole above ten."""
    if mass_kg is None:
        return "not weighed"
    digits = 0 if mass_kg >= 10 else 1
    return f"{mass_kg:.{digits}f} kg / {mass_kg / POUND_KG:.0f} lb"


@dataclass(frozen=True, slots=True)
class Gross:
    """The mass of a closed case in kg, by the scale and by sum; None where nobody has said."""

    weighed: Decimal | None
    computed: Decimal | None

    @property
    def kg(self) -> Decimal | None:
        """What the hand should reckon with: the scale's word if there is one."""
        return self.computed if self.weighed is None else self.weighed

    @property
    def how(self) -> str:
        """How that is known, with the other figure beside it."""
        if self.weighed is None:
            return "not all masses entered" if self.computed is None else "computed, not weighed"
        return "weighed" if self.computed is None else f"weighed; {self.computed:.1f} kg computed"

    @property
    def words(self) -> str:
        return f"{mass_words(self.kg)} ({self.how})"


def gross_of(case: Item, rows: Sequence[Stowed], weighed: Decimal | None) -> Gross:
    return Gross(weighed, computed_kg(case, rows))


def size_words(item: Item) -> str:
    """Length, width and height in centimetres, rounded up: what a loader judges a gap by; for a column so headed."""
    sides = (item.type.length_mm, item.type.width_mm, item.type.height_mm)
    return "not known" if None in sides else "×".join(str(-(-side // 10)) for side in sides if side)


def tail_of(item: Item) -> str:
    """The last six characters of the serial, or what stands for it."""
    if item.serial:
        return item.serial[-6:]
    return "unreadable" if item.serial_unreadable_since else ""


def hired_from(item: Item) -> str:
    return "" if item.owner.is_ours else item.owner.name
