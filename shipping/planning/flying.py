"""Units as recorded decisions let them fly: in the case that is named alone, and there without the air's own limits."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from shipping.packing.wanted import LEAD, LITHIUM
from shipping.planning.decided import Decided
from shipping.planning.kinds import Unit


def as_decided(units: Sequence[Unit], decided: Decided, names: Mapping[int, str]) -> list[Unit]:
    """Nothing changes where nothing was decided. `names` are the cases that go, by id."""
    if not decided.keys:
        return list(units)
    apart = _lone_cases(units, decided)
    return [_as_decided(unit, decided, apart, names) for unit in units]


def _lone_cases(units: Sequence[Unit], decided: Decided) -> frozenset[int]:
    """Cases in which batteries fly alone by decision: where something lives that runs on them, it is not that case."""
    lone = frozenset(case for item in decided.alone for case in decided.things[item])
    return lone - {unit.home for unit in units if unit.gear.runs_on and not unit.gear.battery}


def _as_decided(unit: Unit, decided: Decided, lone: frozenset[int], names: Mapping[int, str]) -> Unit:
    gear = unit.gear
    where = _where(unit, decided, lone)
    if where:
        return _only_in(unit, where, names)
    served = gear.is_loose_lithium or (gear.runs_on and gear.chemistry == LITHIUM)
    if unit.home is not None and unit.home in decided.together and served:
        return _as_it_is(unit, unit.home, names)
    powered, serves = bool(gear.battery or gear.runs_on or gear.chemistry), bool(gear.runs_on and not gear.battery)
    barred = (decided.together if powered else frozenset()) | (lone if serves else frozenset())
    return _not_in(unit, barred, names) if unit.takers & barred else unit


def _where(unit: Unit, decided: Decided, lone: frozenset[int]) -> frozenset[int]:
    """The cases that a decision lets all of it fly in."""
    where = frozenset.intersection(*(decided.things.get(item, frozenset()) for item in unit.items))
    if any(item in decided.alone for item in unit.items):
        where &= lone
    return where & {unit.home} if unit.gear.stays and unit.home is not None else where


def _only_in(unit: Unit, where: frozenset[int], names: Mapping[int, str]) -> Unit:
    """What was decided of it is not asked again; that others run on it, or not, stays as it is."""
    family = f"{unit.gear.family} that fly in {_called(where, names)} by a decision"
    gear = replace(unit.gear, family=family, battery_mwh=0)
    if gear.battery or gear.chemistry == LEAD:
        gear = replace(gear, battery=False, chemistry="", runs_on=0)
    return replace(unit, gear=gear, takers=where)


def _as_it_is(unit: Unit, home: int, names: Mapping[int, str]) -> Unit:
    """Batteries and what runs on them, all together or not at all: how many and how heavy is not asked again."""
    family = f"{unit.gear.family} that fly in {names[home]} as they are, by a decision"
    gear = replace(unit.gear, family=family, together=f"flies as it is in {names[home]}")
    if gear.is_loose_lithium:
        gear = replace(gear, battery=False, chemistry="", runs_on=0)
    return replace(unit, gear=gear, takers=frozenset({home}))


def _not_in(unit: Unit, where: frozenset[int], names: Mapping[int, str]) -> Unit:
    """What was decided of a case is decided of it as it was: no other battery, and nothing that runs on one, joins."""
    family = f"{unit.gear.family} that fly elsewhere than in {_called(where & unit.takers, names)}"
    return replace(unit, gear=replace(unit.gear, family=family), takers=unit.takers - where)


def _called(cases: Iterable[int], names: Mapping[int, str]) -> str:
    return ", ".join(sorted(names[case] for case in cases if case in names))
