"""A show as a load for the planner: kinds, cases and vehicles with what is entered for them, and what is not."""

from __future__ import annotations

import hashlib
import json
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal
from functools import cached_property

from inventory.answers.keeping import Kept, kept_on
from inventory.enumerating import some_of
from inventory.models import Item, Kind
from shipping.models import Show
from shipping.packing.facts import System
from shipping.packing.kept import as_load
from shipping.packing.rules.batteries import is_lithium
from shipping.packing.rules.vehicles import plannable_kg
from shipping.packing.wanted import Air, Content, Gear, Job, Plan, Shell, Van
from shipping.planning.flying import as_decided
from shipping.planning.going import Going, Question, going
from shipping.planning.kinds import Unit, grams, inside_of, slots_of, units
from shipping.planning.parted import part_able, with_copies, with_spares
from shipping.planning.wholes import limits_on, systems_of

NOTHING = "nothing"  # a case that takes no kind of this load still has to name one


@dataclass(frozen=True, slots=True)
class Missing:
    """A figure that nobody has entered, what is done without it, and the type to enter it for."""

    sentence: str
    type_id: int


@dataclass(frozen=True)
class Wanted:
    """One question of one show, frozen: the load, and which things, cases and vehicles its ids stand for."""

    job: Job
    units: Mapping[str, tuple[Unit, ...]]
    cases: Mapping[str, int]
    vehicles: Mapping[str, int]
    missing: tuple[Missing, ...]
    notes: tuple[str, ...]
    goes: Going
    on: date
    limits: Mapping[tuple[str, str], Decimal]
    kept: tuple[Kept, ...] = ()

    @cached_property
    def systems(self) -> tuple[System, ...]:
        """The systems that its things belong to, as the rules read them; looked up once for any number of plans."""
        return _systems(self.goes)

    @property
    def digest(self) -> str:
        """Of all that the planner reads: the same input, the same digest."""
        text = json.dumps(as_load(self.job), sort_keys=True, ensure_ascii=False)
        return hashlib.sha256(text.encode()).hexdigest()


def wanted(show: Show, question: Question, at: datetime) -> Wanted:
    """The load of a show as this question puts it."""
    goes = going(show, question, at)
    limits = limits_on(goes.on)
    names = {case.pk: called(case) for case in goes.cases}
    every = list(units(goes))
    here = {item.pk: item for item in goes.items}
    drives = [pk for pk, item in here.items() if item.type.kind == Kind.DRIVE]
    kept = part_able(kept_on(drives, at), every)
    every = with_spares(with_copies(every, kept, here), _systems(goes), here)
    every = as_decided(every, goes.decided, names)
    kinds = _kinds(every, names)
    vans = list(_vans(goes.vehicles, limits))
    job = Job(
        gear=tuple(gear for gear, _ in kinds), shells=tuple(_shells(goes, kinds, names)),
        vans=tuple(van for van, _ in vans), clearance_mm=int(limits["rear-gap", "rear_mm"]),
        moves_first=question.usual_first, air=_air(goes, limits),
    )  # fmt: skip
    return Wanted(
        job, {gear.id: tuple(of) for gear, of in kinds}, {name: pk for pk, name in names.items()},
        {van.id: pk for van, pk in vans}, tuple(_missing(goes, kinds)), (*_notes(kinds), *_not_told(goes, names)),
        goes, goes.on, limits, kept,
    )  # fmt: skip


def _systems(goes: Going) -> tuple[System, ...]:
    return systems_of({item.home_system_id for item in goes.items if item.home_system_id})


def _air(goes: Going, limits: Mapping[tuple[str, str], Decimal]) -> Air | None:
    """The dated limits of the rules of batteries by air, where any leg flies."""
    if not goes.by_air:
        return None
    with_it = "lithium-with-equipment-by-air"
    most = round(limits["lithium-in-equipment-by-air", "wh"] * 1000)
    return Air(goes.passenger, goes.baggage, most, int(limits[with_it, "spares"]), grams(limits[with_it, "net_kg"]))


def called(item: Item) -> str:
    """What a case or a vehicle is called in a load, and on the desk."""
    return item.number or item.code or f"case {item.pk}"


def _kinds(every: Iterable[Unit], names: Mapping[int, str]) -> list[tuple[Gear, list[Unit]]]:
    """Units that are the same in every rule become one kind, with how many of it live where; what is apart, alone."""
    alike: dict[tuple[Gear, frozenset[int], tuple[int, ...]], list[Unit]] = defaultdict(list)
    for unit in every:
        alone = unit.items if unit.gear.not_in_one_case else ()
        alike[unit.gear, unit.takers, alone].append(unit)
    found, used = [], set()
    for (gear, _, _), of in sorted(alike.items(), key=lambda one: (one[0][0].name, one[0][0].family, one[1][0].items)):
        lives: dict[str, int] = defaultdict(int)
        for unit in of:
            if unit.home in names:
                lives[names[unit.home]] += gear.count
        ident = _unused(gear.name, used)
        kind = replace(gear, id=ident, count=gear.count * len(of), homes=tuple(sorted(lives.items())))
        found.append((kind, of))
    return found


def _unused(name: str, used: set[str]) -> str:
    ident, at = name, 2
    while ident in used:
        ident, at = f"{name} ({at})", at + 1
    used.add(ident)
    return ident


def _shells(goes: Going, kinds: list[tuple[Gear, list[Unit]]], names: Mapping[int, str]) -> Iterator[Shell]:
    families: dict[int, set[str]] = defaultdict(set)
    resident_g: dict[int, int] = defaultdict(int)
    for gear, of in kinds:
        for unit in of:
            resident_g[unit.home or 0] += gear.mass_g * (gear.count // len(of))
            for case in unit.takers:
                families[case].add(gear.family)
    for case in goes.cases:
        held = case.type.container
        tare = grams(held.tare_kg) if held.tare_kg is not None else 0
        most = grams(held.max_gross_kg) if held.max_gross_kg is not None else tare + resident_g[case.pk]
        yield Shell(
            names[case.pk], names[case.pk], tuple(sorted(families[case.pk])) or (NOTHING,), tare, most,
            units=held.rack_units or 0, depth_mm=held.usable_depth_mm or 0, slots=slots_of(case),
            inside_mm=inside_of(case), rides=case.pk in goes.rides, off_vans=case.pk in goes.flown,
        )  # fmt: skip


def _vans(vehicles: Iterable[Item], limits: Mapping[tuple[str, str], Decimal]) -> Iterator[tuple[Van, int]]:
    """A vehicle may be planned for its share of what is entered, less the crew, as the rule of the payload says."""
    for one in vehicles:
        held = getattr(one.type, "container", None)
        if held is not None and held.payload_kg is not None:
            yield Van(called(one), called(one), grams(plannable_kg(held.payload_kg, limits))), one.pk


def payloads(vehicles: Iterable[Item], limits: Mapping[tuple[str, str], Decimal]) -> dict[str, int]:
    """What may be planned onto each of these vehicles, in grams; those with nothing entered are left out."""
    return {van.id: van.payload_g for van, _ in _vans(vehicles, limits)}


def _missing(goes: Going, kinds: list[tuple[Gear, list[Unit]]]) -> Iterator[Missing]:
    here = {item.pk: item for item in goes.items}
    lacking: dict[tuple[int, tuple[str, ...]], list[Item]] = defaultdict(list)
    for _, of in kinds:
        for unit in of:
            if unit.lacks:
                lacking[here[unit.items[0]].type_id, unit.lacks].append(here[unit.items[0]])
    for (type_id, lacks), items in sorted(lacking.items(), key=lambda one: str(one[1][0].type)):
        yield Missing(_without(items, " and ".join(lacks)), type_id)
    yield from _batteries(goes)
    yield from (one for case in _one_of_each(goes.cases) for one in _of_case(case))
    for one in _one_of_each(goes.vehicles):
        held = getattr(one.type, "container", None)
        if held is None or held.payload_kg is None:
            yield Missing(f"{one}: nobody has entered what it may carry, so it is not planned with.", one.type_id)


def _batteries(goes: Going) -> Iterator[Missing]:
    """By air: what battery it is, and of how many watt-hours, as far as the rules ask."""
    flies = "may fly" if goes.rides else "flies"
    for one in _one_of_each(goes.items if goes.by_air else ()):
        kind = one.type
        has = kind.battery_count or kind.kind in (Kind.BATTERY, Kind.UPS) or kind.battery_chemistry
        if has and not kind.battery_chemistry:
            yield Missing(f"{kind}: it {flies}, and nobody has entered what battery it is or has.", kind.pk)
        elif has and kind.kind != Kind.BATTERY and is_lithium(kind) and kind.battery_wh is None:
            yield Missing(f"{kind}: it {flies}, and nobody has entered its watt-hours.", kind.pk)


def _without(items: list[Item], what: str) -> str:
    cases = sorted({str(one.home_case) for one in items if one.home_case_id})
    many = f"{len(items)} things" if len(items) > 1 else "one thing"
    if not cases:
        return f"{items[0].type}: no {what} entered and no usual case ({many}), so it cannot be planned."
    where = f"{', '.join(cases[:4])}{' and others' if cases[4:] else ''}"
    return f"{items[0].type}: no {what} entered ({many}), so it stays in {where}."


def _one_of_each(items: Iterable[Item]) -> list[Item]:
    return list({item.type_id: item for item in items}.values())


def _of_case(case: Item) -> Iterator[Missing]:
    held = case.type.container
    if held.tare_kg is None:
        yield Missing(f"{case.type}: no empty mass entered, so every such case is reckoned too light.", case.type_id)
    if held.max_gross_kg is None:
        yield Missing(f"{case.type}: no most gross mass entered, so only its usual things are planned.", case.type_id)
    if not held.rack_units and not slots_of(case) and inside_of(case) is None:
        yield Missing(f"{case.type}: its inside is not measured, so only its usual things are planned.", case.type_id)


def _notes(kinds: list[tuple[Gear, list[Unit]]]) -> Iterator[str]:
    unsized = sum(len(of) for gear, of in kinds if "size" in of[0].lacks)
    if unsized:
        yield f"{unsized} things without a size stay in their usual cases; how much room they take is not reckoned."


def _not_told(goes: Going, names: Mapping[int, str]) -> Iterator[str]:
    """Cases that are planned as if they flew, since a part of the show does and nothing says how they go."""
    cases = sorted(names[pk] for pk in goes.unsaid)
    if cases:
        its = "its" if len(cases) == 1 else "their"
        yield (
            f"No leg to come tells whether {some_of(cases)} will fly (by courier it may), and part of this show does: "
            f"so the limits of the air hold for {its} batteries too. Consign by road what goes by road, and it is "
            "planned so."
        )


def assigned(load: Wanted, contents: Mapping[str, Content]) -> dict[int, str]:
    """Which thing goes into which case: those that live there first, so that nothing moves for nothing."""
    found: dict[int, str] = {}
    for case in sorted(contents):
        for ident, count in contents[case]:
            found |= _kept(load, ident, case, count, found)
    for case in sorted(contents):
        for ident, count in contents[case]:
            found |= _moved(load, ident, case, count, found)
    return found


def _each(load: Wanted, ident: str) -> int:
    return load.job.kinds[ident].count // len(load.units[ident])


def _kept(load: Wanted, ident: str, case: str, count: int, done: Mapping[int, str]) -> dict[int, str]:
    home = load.cases[case]
    at_home = [unit for unit in load.units[ident] if unit.home == home]
    return {item: case for unit in at_home[: count // _each(load, ident)] for item in unit.items}


def _moved(load: Wanted, ident: str, case: str, count: int, done: Mapping[int, str]) -> dict[int, str]:
    units_of = load.units[ident]
    there = sum(done.get(unit.items[0]) == case for unit in units_of)
    free = [unit for unit in units_of if unit.items[0] not in done]
    return {item: case for unit in free[: count // _each(load, ident) - there] for item in unit.items}


def usual(load: Wanted) -> dict[str, Content]:
    """Everything in its usual case, whatever the limits say."""
    lives: dict[str, list[tuple[str, int]]] = defaultdict(list)
    for gear in load.job.gear:
        for case, count in gear.homes:
            lives[case].append((gear.id, count))
    return {case: tuple(sorted(lines)) for case, lines in sorted(lives.items())}


def plan_items(load: Wanted, plan: Plan) -> dict[int, int]:
    """Item id to case id, for every thing that the plan packs."""
    return {item: load.cases[case] for item, case in assigned(load, plan.contents).items()}
