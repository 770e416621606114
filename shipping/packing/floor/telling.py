"""A floor plan as data with stable names and as lines to read. Pure."""

from __future__ import annotations

from itertools import groupby
from typing import Any

from shipping.packing.floor.axles import Stage, deck_metres, stages, weights
from shipping.packing.floor.deck import FloorPlan, Freight, Spot
from shipping.packing.floor.reasons import conflict_words, kg
from shipping.packing.floor.restraint import CAUTION, lashing_words
from shipping.packing.telling import record_of

PLATES = "Axle loads are reckoned from entered figures; plated limits and a weighbridge decide."


def metres(plan: FloorPlan) -> float:
    return round(float(deck_metres(plan.spots)), 2)


def stages_of(freight: Freight, plan: FloorPlan) -> list[Stage]:
    return stages(freight.deck, weights(freight, plan.spots))


def as_data(freight: Freight, plan: FloorPlan) -> dict[str, Any]:
    """The whole plan; documented in docs/load-files.md."""
    return {
        "places": [
            {"case": one.cargo, "row": one.row, "place": one.place, "tier": one.tier, "at_mm": list(one.at_mm),
             "size_mm": list(one.size_mm), "stop": freight.by_id[one.cargo].stop}
            for one in plan.spots
        ],
        "left": [{"case": one.gear, "count": one.count, "reason": one.reason} for one in plan.left],
        "cannot_all_go": dict(plan.conflict),
        "stages": [_stage(one) for one in stages_of(freight, plan)],
        "used_mm": plan.used_mm,
        "floor_bound_mm": plan.area_bound_mm,
        "loading_metres": metres(plan),
        "record": record_of(plan),
    }  # fmt: skip


def _stage(one: Stage) -> dict[str, Any]:
    return {
        "when": one.when, "cases": one.cases, "mass_kg": one.mass_g / 1000, "offset_mm": one.offset_mm,
        "axles": [
            {"name": each.axle.name, "load_kg": each.load_g / 1000,
             "total_kg": None if each.total_g is None else each.total_g / 1000,
             "limit_kg": None if each.axle.limit_g is None else each.axle.limit_g / 1000}
            for each in one.axles
        ],
    }  # fmt: skip


def rows_of(plan: FloorPlan) -> list[tuple[int, list[Spot]]]:
    """(row, its cases by place and tier), from the headboard."""
    ordered = sorted(plan.spots, key=lambda one: (one.row, one.place, one.tier))
    return [(row, list(spots)) for row, spots in groupby(ordered, key=lambda one: one.row)]


def as_lines(freight: Freight, plan: FloorPlan) -> list[str]:
    """For a terminal: how good, what stays behind and why, row by row, and what the axles carry."""
    lines = [plan.words, ""]
    for one in plan.left:
        lines.append(f"Stays behind: {one.count} x {freight.by_id[one.gear].name}. {one.reason}")
    lines += [said for said in [conflict_words(freight, plan.conflict)] if said]
    lines += [_row(freight, row, spots) for row, spots in rows_of(plan)]
    lines += ["", f"{plan.used_mm:,} mm of {freight.deck.length_mm:,} mm used, {metres(plan):g} loading metres."]
    lines += [stage_words(one) for one in stages_of(freight, plan)]
    lines += ["", *(f"{one.name}: {one.value} (bound {one.bound}, {one.engine or plan.engine})" for one in plan.levels)]
    if mass := sum(freight.by_id[one.cargo].mass_g or 0 for one in plan.spots):
        lines += [lashing_words(mass), CAUTION]
    check = "passed" if plan.breaches == () else "FAILED"
    return [*lines, *plan.notes, PLATES, f"Checked apart from the planner: {check}."]


def _row(freight: Freight, row: int, spots: list[Spot]) -> str:
    """Side by side with commas, what stands on what with a plus."""
    many = len(freight.deck.stops) > 1
    places = [[freight.by_id[one.cargo] for one in stack] for _, stack in groupby(spots, key=lambda one: one.place)]
    said = [" + ".join(one.name for one in stack) for stack in places]
    stops = sorted({one.stop for stack in places for one in stack})
    where = f" (off at {', '.join(freight.deck.stops[stop - 1] for stop in stops)})" if many else ""
    return f"Row {row}{where}: {', '.join(said)}"


def offset_words(offset_mm: int) -> str:
    if not offset_mm:
        return "in the middle"
    return f"{abs(offset_mm)} mm {'right' if offset_mm > 0 else 'left'} of the middle"


def stage_words(one: Stage) -> str:
    """One stage in one line: mass, axles, where its middle lies."""
    axles = "".join(
        f"; {each.axle.name} {kg(each.load_g if each.total_g is None else each.total_g)}"
        + (" from the load" if each.total_g is None else f" of {kg(each.axle.limit_g)}" if each.axle.limit_g else "")
        for each in one.axles
    )
    when = one.when[0].upper() + one.when[1:]
    return f"{when}: {one.cases} cases, {kg(one.mass_g)}{axles}; {offset_words(one.offset_mm)}."


def spot_words(spot: str) -> str:
    """ "3.2.1" as somebody calls it across a deck; a tier is named where something stands below."""
    row, place, tier = spot.split(".")
    return f"row {row}, place {place}{f', tier {tier}' if tier != '1' else ''}"
