"""A plan before the rules: its cases as they would be packed, its vehicles as they would be loaded. Nothing is stored.

Only rules that a plan can break are asked. What is asked at packing, such as photos and ticks, and what is wrong with a
thing wherever it is packed, such as a fault, is said where it is packed.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

from inventory.models import Holding, Item
from shipping.packing import facts
from shipping.packing.engine import judge
from shipping.packing.facts import State
from shipping.packing.geometry import judge_plan
from shipping.packing.rules import RULES
from shipping.packing.wanted import Plan
from shipping.planning.content import kept_in
from shipping.planning.desk import Wanted, assigned
from shipping.planning.going import Going
from shipping.planning.pieces import Held, Known, piece_of

ASKED = (
    "one-set-one-box", "within-rating", "original-packaging", "rails-with-frame", "within-payload",
    "not-with-the-only-copy", "lithium-alone-by-air", "lithium-with-equipment-by-air", "lithium-in-equipment-by-air",
    "lead-acid-by-air",
)  # fmt: skip


def judged(load: Wanted, plan: Plan) -> Plan:
    """The plan with what it breaks, by geometry and by the rules."""
    return replace(plan, breaches=breaches(load, plan))


def breaches(load: Wanted, plan: Plan) -> tuple[str, ...]:
    """What the check by geometry finds; else every block that the rules would set against the plan."""
    return judge_plan(load.job, plan) or tuple(dict.fromkeys(_blocks(load, plan)))


def _blocks(load: Wanted, plan: Plan) -> Iterator[str]:
    rules = [RULES[name] for name in ASKED]
    for one in _loads(load, plan):
        for finding in judge(one, rules):
            if finding.blocks and finding.state == State.WRONG and not load.goes.decided.covers(finding):
                yield finding.sentence


def _loads(load: Wanted, plan: Plan) -> Iterator[facts.Load]:
    """What goes together: the cases of each vehicle, or all where none is planned; what flies though others ride."""
    goes = load.goes
    cases = _cases(load, plan)
    common = {"on": load.on, "systems": load.systems, "sets": goes.sets, "packaged_types": goes.packaged_types,
              "limits": load.limits}  # fmt: skip
    vehicles = {name: next(one for one in goes.vehicles if one.pk == pk) for name, pk in load.vehicles.items()}
    if not vehicles:
        yield facts.Load(cases=tuple(cases.values()), leg=_way(goes, _mode(goes)), **common)
    for name, vehicle in vehicles.items():
        mine = tuple(cases[case] for case, on in plan.vans.items() if on == name and case in cases)
        yield facts.Load(cases=mine, leg=_leg(goes, name, vehicle), kept=kept_in(mine, load.kept), **common)
    if goes.rides:
        flying = tuple(case for case in cases.values() if goes.flies(case.id))
        yield facts.Load(cases=flying, leg=_way(goes, "air"), **common)


def _leg(goes: Going, name: str, vehicle: Item) -> facts.Leg:
    carries = facts.Vehicle(vehicle.pk, name, vehicle.type.container.payload_kg)
    return facts.Leg(
        vehicle.pk, f"the way on {name}", _mode(goes), carries,
        passenger_aircraft=goes.passenger, baggage=goes.baggage,
    )  # fmt: skip


def _way(goes: Going, mode: str) -> facts.Leg:
    return facts.Leg(0, "the way", mode=mode, passenger_aircraft=goes.passenger, baggage=goes.baggage)


def _mode(goes: Going) -> str:
    """Of everything together. Where only a part flies, that part is judged by itself as well."""
    return "air" if goes.by_air and not goes.rides else "road"


def _cases(load: Wanted, plan: Plan) -> dict[str, facts.Case]:
    shells = {case.pk: case for case in load.goes.cases}
    inside: dict[str, list[facts.Piece]] = defaultdict(list)
    where = assigned(load, plan.contents)
    for piece, case in _pieces(load.goes, {item: load.cases[case] for item, case in where.items()}, where):
        inside[case].append(piece)
    return {name: _case(name, shells[load.cases[name]], inside[name]) for name in plan.contents}


def _pieces(
    goes: Going, case_of: Mapping[int, int], where: Mapping[int, str]
) -> Iterator[tuple[facts.Piece, str]]:  # fmt: skip
    members = {member.item_id: (one.id, member.bay) for one in goes.sets for member in one.members}
    held, known = Held(case_of=dict(case_of)), Known({}, members, {})
    for item in goes.items:
        if item.pk in where:
            yield piece_of(Holding(item=item), held, known), where[item.pk]


def _case(name: str, case: Item, pieces: Iterable[facts.Piece]) -> facts.Case:
    held = case.type.container
    return facts.Case(
        id=case.pk, number=name, type_id=case.type_id, pieces=tuple(pieces), tare_kg=held.tare_kg,
        max_gross_kg=held.max_gross_kg, rack_units=held.rack_units, usable_depth_mm=held.usable_depth_mm,
        slots=tuple(part.label for part in held.compartments.all()), for_drives=held.for_drives,
        packaging_for=frozenset(kind.pk for kind in held.original_packaging_for.all()),
    )  # fmt: skip
