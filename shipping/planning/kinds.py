"""Things as kinds: how each may be planned, from what is entered for its type and from the case it lives in.

Nothing is guessed. What has no mass or no size stays in its usual case, and is named.

- A drive set goes whole, into a box of its own; a drive by itself into a slot of a case that is not a set's box.
- Screens, panels, controllers and what is shock-critical stay in the case with their foam (common practice).
- What else lives in such a case, in a rack without taking units of it, or in a case with slots, stays with it.
- Rack gear may go into another rack case, what is measured into another measured case: of its system, or of the pool.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

from inventory.models import Compartment, Item, ItemType, Kind
from shipping.packing.rules.batteries import LITHIUM as CALLED_LITHIUM
from shipping.packing.rules.batteries import needed_beside
from shipping.packing.rules.fragile import SCREENS
from shipping.packing.wanted import LEAD, LITHIUM, Gear, Size
from shipping.planning.going import Going


@dataclass(frozen=True, slots=True)
class Unit:
    """What moves as one: a thing, a lot, or a whole drive set. `gear` has neither id nor homes yet."""

    items: tuple[int, ...]
    gear: Gear
    home: int | None
    takers: frozenset[int]
    lacks: tuple[str, ...] = ()


def grams(kilograms: object) -> int:
    return round(float(str(kilograms)) * 1000)


def size_of(item: Item) -> Size | None:
    sides = (item.type.length_mm, item.type.width_mm, item.type.height_mm)
    return None if None in sides or 0 in sides else (int(sides[0]), int(sides[1]), int(sides[2]))


def is_delicate(item: Item) -> bool:
    return item.type.shock_critical or item.type.kind in SCREENS


def slots_of(case: Item) -> int:
    return sum(one.kind != Compartment.CompartmentKind.POCKET for one in case.type.container.compartments.all())


def inside_of(case: Item) -> Size | None:
    """The room of a case that is filled by room: not a rack, not slots."""
    held = case.type.container
    sides = (held.inner_length_mm, held.inner_width_mm, held.inner_height_mm)
    if held.rack_units or slots_of(case) or None in sides or 0 in sides:
        return None
    return (int(sides[0]), int(sides[1]), int(sides[2]))


@dataclass(frozen=True)
class Rooms:
    """The cases of a load, and which of them take strangers: things that do not usually live in them."""

    going: Going

    @cached_property
    def by_id(self) -> dict[int, Item]:
        return {case.pk: case for case in self.going.cases}

    @cached_property
    def residents(self) -> Mapping[int, list[Item]]:
        found: dict[int, list[Item]] = defaultdict(list)
        for item in self.going.items:
            if item.home_case_id is not None:
                found[item.home_case_id].append(item)
        return found

    @cached_property
    def racks(self) -> list[Item]:
        return [case for case in self.going.cases if case.type.container.rack_units and _is_rated(case)]

    @cached_property
    def open(self) -> list[Item]:
        """Measured and rated inside, no foam cut for something delicate, and all that lives there is measured."""
        return [case for case in self.going.cases if inside_of(case) and _is_rated(case) and not self._keeps(case)]

    def _keeps(self, case: Item) -> bool:
        made_for = case.type.container.original_packaging_for.all()
        return bool(made_for) or any(is_delicate(one) or size_of(one) is None for one in self.residents[case.pk])

    def of(self, cases: Iterable[Item], item: Item) -> frozenset[int]:
        """Those of its own system and of the pool, and its usual one."""
        own = {case.pk for case in cases if case.home_system_id in (None, item.home_system_id)}
        return frozenset(own | ({item.home_case_id} & set(self.by_id)))


def _is_rated(case: Item) -> bool:
    return case.type.container.max_gross_kg is not None


def units(going: Going) -> Iterator[Unit]:
    """Every thing once, whole sets first."""
    rooms = Rooms(going)
    here = {item.pk: item for item in going.items}
    in_sets: set[int] = set()
    for one in going.sets:
        drives = [here[member.item_id] for member in one.members if member.item_id in here]
        in_sets |= {drive.pk for drive in drives}
        yield _whole_set(one.name, drives, rooms)
    for item in going.items:
        if item.pk not in in_sets:
            yield _thing(item, rooms)


def _whole_set(name: str, drives: list[Item], rooms: Rooms) -> Unit:
    """One unit of as many slots as it has drives; its usual case is the one that most of them live in."""
    homes = [drive.home_case_id for drive in drives if drive.home_case_id]
    home = max(sorted(set(homes)), key=homes.count, default=None)
    boxes = [case for case in rooms.going.cases if _takes_set(case, drives)]
    gear = Gear("", name, f"drive set {name}", mass_g=sum(_mass(one) for one in drives), slots=len(drives))
    lacks = tuple({"mass" for one in drives if one.type.mass_kg is None})
    takers = rooms.of(boxes, drives[0]) & {case.pk for case in boxes}
    return Unit(tuple(drive.pk for drive in drives), replace(gear, together=f"set {name}"), home, takers, lacks)


def _takes_set(case: Item, drives: list[Item]) -> bool:
    """Enough slots, packaging for each of them, and in a drive box no room for a second set."""
    slots = slots_of(case)
    alone = not case.type.container.for_drives or 2 * len(drives) > slots
    return len(drives) <= slots and _packages(case, drives) and alone


def _packages(case: Item, drives: list[Item]) -> bool:
    made_for = {kind.pk for kind in case.type.container.original_packaging_for.all()}
    return all(one.type_id in made_for for one in drives if one.type.needs_original_packaging)


def _mass(item: Item) -> int:
    return grams(item.type.mass_kg) if item.type.mass_kg is not None else 0


def _thing(item: Item, rooms: Rooms) -> Unit:
    home = item.home_case_id if item.home_case_id in rooms.by_id else None
    if _unpacked(item, rooms):
        out = Gear("", "", f"{item.type}: it demands its original packaging, which is not its usual case,", stays=True)
        return Unit((item.pk,), _said(out, item), None, frozenset())
    for way in (_drive, _in_rack, _loose):
        if item.type.mass_kg is not None and (found := way(item, rooms)) is not None:
            gear, takers = found
            return Unit((item.pk,), _said(gear, item), home, takers)
    return _stays(item, home, rooms)


def _unpacked(item: Item, rooms: Rooms) -> bool:
    """Does it demand a packaging that is known, and live in something else? Drives are asked slot by slot."""
    kind = item.type
    if not kind.needs_original_packaging or kind.kind == Kind.DRIVE or kind.pk not in rooms.going.packaged_types:
        return False
    home = rooms.by_id.get(item.home_case_id or 0)
    return home is None or not _packages(home, [item])


def _said(gear: Gear, item: Item) -> Gear:
    """What holds of a thing wherever it goes. A lot moves whole."""
    kind = item.type
    rides = kind.kind == Kind.RAILS or (kind.kind == Kind.FRAME and kind.needs_rails)
    convoy = f"{item.home_system} and its rails" if rides and item.home_system_id else ""
    fragile = kind.max_on_top_kg is not None and kind.max_on_top_kg == 0
    lot = {"count": item.quantity, "together": f"lot {item.pk}"} if item.quantity > 1 else {}
    return replace(
        gear, name=str(kind), mass_g=_mass(item), upright=kind.stays_upright, fragile=fragile,
        convoy=convoy, **lot, **_battery(kind),
    )  # fmt: skip


def _battery(kind: ItemType) -> dict[str, Any]:
    """As the rules of batteries by air read it: by itself, or of what it is in it, and how many may lie beside it."""
    said = kind.battery_chemistry.lower()
    chemistry = LITHIUM if said.startswith(CALLED_LITHIUM) else LEAD if said.startswith("lead") else "other"
    return {
        "battery": kind.kind == Kind.BATTERY, "runs_on": needed_beside(kind.kind, kind.battery_count),
        "chemistry": chemistry if said else "", "battery_mwh": round((kind.battery_wh or 0) * 1000),
    }  # fmt: skip


Found = tuple[Gear, frozenset[int]] | None


def _drive(item: Item, rooms: Rooms) -> Found:
    """A drive of no set: a slot that is its packaging. It may stay in the box of a set, and is put in none."""
    if item.type.kind != Kind.DRIVE:
        return None
    slotted = [case for case in rooms.going.cases if slots_of(case) and _packages(case, [item])]
    cases = [case for case in slotted if not case.type.container.for_drives or case.pk == item.home_case_id]
    if not cases:
        return None
    own = f" that live in {item.home_case}" if any(case.type.container.for_drives for case in cases) else ""
    family = f"single {item.type} drives of {item.home_system or 'the pool'}{own}"
    return Gear("", "", family, slots=1), rooms.of(cases, item) & {case.pk for case in cases}


def _in_rack(item: Item, rooms: Rooms) -> Found:
    units, depth, home = item.type.rack_units, item.type.rack_depth_mm, item.home_case
    lives_so = home is None or bool(getattr(home.type.container, "rack_units", None))
    if not (units and depth and lives_so) or item.type.kind in (Kind.RAILS, Kind.SHELF, Kind.BLANK):
        return None
    gear = Gear("", "", _family("rack gear", item, rooms, rooms.racks), units=int(units), depth_mm=int(depth))
    return replace(gear, stays=is_delicate(item)), rooms.of(rooms.racks, item)


def _loose(item: Item, rooms: Rooms) -> Found:
    """Measured, and living in a case that is filled by room, or nowhere."""
    size = size_of(item)
    if size is None or is_delicate(item) or item.type.needs_original_packaging:
        return None
    home = rooms.by_id.get(item.home_case_id or 0)
    if home is not None and (inside_of(home) is None or any(is_delicate(one) for one in rooms.residents[home.pk])):
        return None
    return Gear("", "", _family("loose things", item, rooms, rooms.open), size_mm=size), rooms.of(rooms.open, item)


def _family(word: str, item: Item, rooms: Rooms, cases: list[Item]) -> str:
    """Things with the same word may go into the same cases; a usual case that takes no strangers makes its own."""
    home = rooms.by_id.get(item.home_case_id or 0)
    own = f" that live in {home}" if home is not None and home not in cases else ""
    return f"{word} of {item.home_system or 'the pool'}{own}"


def _stays(item: Item, home: int | None, rooms: Rooms) -> Unit:
    """It stays in its usual case, and takes of it only its mass: by nature, or because something is not entered."""
    bare = Gear("", "", f"things that go only in {item.home_case or 'a case of their own'}", stays=True)
    kind = item.type
    lacks = ["mass"] if kind.mass_kg is None else []
    if size_of(item) is None and _counts_by_room(item, rooms):
        lacks.append("size")
    if kind.rack_units and not kind.rack_depth_mm:
        lacks.append("rack depth")
    takers = frozenset() if home is None else frozenset({home})
    return Unit((item.pk,), _said(bare, item), home, takers, tuple(lacks))


def _counts_by_room(item: Item, rooms: Rooms) -> bool:
    """Would its size be asked? Not in a rack, in slots, or in foam cut for it."""
    home = rooms.by_id.get(item.home_case_id or 0)
    if home is None:
        return True
    return inside_of(home) is not None and not any(is_delicate(one) for one in rooms.residents[home.pk])
