"""What a plan is to keep apart: drives from the only other copies of what they hold, and a spare from its part."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from inventory.answers.keeping import Kept
from inventory.models import Item
from shipping.packing.facts import System
from shipping.planning.kinds import Unit
from shipping.planning.pieces import name_of


def part_able(kept: Iterable[Kept], units: Sequence[Unit]) -> tuple[Kept, ...]:
    """Unreleased pieces whose every placed copy goes along, on a drive that is not in the same unit."""
    unit_of = {item: at for at, unit in enumerate(units) for item in unit.items}
    return tuple(one for one in kept if not one.released and one.drive.id in unit_of and _all_along(one, unit_of))


def _all_along(one: Kept, unit_of: Mapping[int, int]) -> bool:
    placed = [copy for copy in one.copies if copy.is_placed]
    where = [unit_of.get(copy.on_drive or 0) for copy in placed]
    return bool(placed) and None not in where and unit_of[one.drive.id] not in where


def with_copies(units: Sequence[Unit], kept: Iterable[Kept], items: Mapping[int, Item]) -> list[Unit]:
    """Each drive and one of the copies of what it holds get a word of their own that keeps them on two vehicles."""
    unit_of = {item: at for at, unit in enumerate(units) for item in unit.items}
    words: dict[int, set[str]] = defaultdict(set)
    for one in kept:
        copy = min(copy.on_drive for copy in one.copies if copy.on_drive is not None)
        both = {unit_of[one.drive.id], unit_of[copy]}
        names = " and ".join(_called(units[at], items) for at in sorted(both))
        for at in both:
            words[at].add(f"{one.reference}: {names}")
    return [
        replace(unit, gear=replace(unit.gear, copies=tuple(sorted(words[at])))) if words[at] else unit
        for at, unit in enumerate(units)
    ]


def _called(unit: Unit, items: Mapping[int, Item]) -> str:
    return name_of(items[unit.items[0]]) if len(unit.items) == 1 else unit.gear.name


def with_spares(units: Sequence[Unit], systems: Iterable[System], items: Mapping[int, Item]) -> list[Unit]:
    """Where more of a show-stopper go than its system needs, one that lives elsewhere is the spare, and stays apart.

    Where all of them live in one case nothing is moved for it: the rule for spares says so, and it only warns.
    """
    found = list(units)
    needed: Counter[tuple[int, int, str]] = Counter()
    for system in systems:
        for part in system.stoppers:
            needed[part.type_id or 0, system.id, system.name] += part.quantity
    for (type_id, _, name), quantity in sorted(needed.items()):
        mine = [at for at, unit in enumerate(found) if type_id and _is_one(unit, items, type_id)]
        if len(mine) <= quantity:
            continue
        first = mine[0]
        spare = next((at for at in mine if found[at].home != found[first].home), first)
        if spare != first and len(found[first].takers | found[spare].takers) > 1:
            word = f"{found[first].gear.name}, {name}"
            for at in (first, spare):
                found[at] = replace(found[at], gear=replace(found[at].gear, spare=word))
    return found


def _is_one(unit: Unit, items: Mapping[int, Item], type_id: int) -> bool:
    """A single thing of the type, not yet spoken for as a part or a spare."""
    alone = len(unit.items) == 1 and unit.gear.count == 1 and not unit.gear.spare
    return alone and items[unit.items[0]].type_id == type_id
