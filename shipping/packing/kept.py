"""Loads and plans as data and back: what is stored of them, and what a load file says. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from shipping.packing.wanted import Air, Gear, Job, Left, Level, Placed, Plan, Shell


def as_load(job: Job) -> dict[str, Any]:
    """The load as a load file has it (docs/load-files.md): what `reading.job_of` reads back to the same job."""
    return {
        "clearance_mm": job.clearance_mm,
        "split_batteries": job.split_batteries,
        "moves_first": job.moves_first,
        **({"air": _air(job.air)} if job.air else {}),
        "gear": [_gear(one) for one in job.gear],
        "cases": [_shell(one) for one in job.shells],
        "vehicles": [{"id": one.id, "name": one.name, "payload_kg": kg_of(one.payload_g)} for one in job.vans],
    }


def _air(air: Air) -> dict[str, Any]:
    return {"passenger": air.passenger, "baggage": air.baggage, "most_wh": kg_of(air.most_mwh), "spares": air.spares,
            "net_kg": kg_of(air.net_g)}  # fmt: skip


def kg_of(grams: int) -> float | int:
    return grams // 1000 if grams % 1000 == 0 else grams / 1000


def given(fields: Mapping[str, Any]) -> dict[str, Any]:
    """Without what a load file takes for given when it is not said."""
    return {name: value for name, value in fields.items() if value not in (0, "", False, None, {})}


def _gear(one: Gear) -> dict[str, Any]:
    fields = {
        "units": one.units, "depth_mm": one.depth_mm, "slots": one.slots,
        "size_mm": list(one.size_mm) if one.size_mm else None, "upright": one.upright, "fragile": one.fragile,
        "battery": one.battery, "runs_on": one.runs_on, "chemistry": one.chemistry,
        "battery_wh": one.battery_mwh // 1000 if one.battery_mwh % 1000 == 0 else one.battery_mwh / 1000,
        "together": one.together, "apart": one.apart, "spare": one.spare, "copies": list(one.copies) or None,
        "convoy": one.convoy, "homes": dict(one.homes), "stays": one.stays, "rails": one.rails, "boxed": one.boxed,
    }  # fmt: skip
    named = {"id": one.id, "name": one.name, "family": one.family, "count": one.count, "mass_kg": kg_of(one.mass_g)}
    return {**named, **given(fields)}


def _shell(one: Shell) -> dict[str, Any]:
    fields = {
        "units": one.units, "depth_mm": one.depth_mm, "slots": one.slots,
        "inside_mm": list(one.inside_mm) if one.inside_mm else None, "compartments": dict(one.compartments),
        "lift_kg": kg_of(one.lift_g), "made_for": list(one.made_for) or None,
        "rides": one.rides, "off_vehicles": one.off_vans,
    }  # fmt: skip
    limits = {"tare_kg": kg_of(one.tare_g), "max_gross_kg": kg_of(one.max_gross_g)}
    return {"id": one.id, "name": one.name, "families": list(one.families), **limits, **given(fields)}


def plan_data(plan: Plan) -> dict[str, Any]:
    """A plan as it is stored; `plan_of` gives the same plan back."""
    return {
        "contents": {case: [list(line) for line in lines] for case, lines in plan.contents.items()},
        "vans": dict(plan.vans),
        "layouts": {
            case: [[one.gear, list(one.at_mm), list(one.size_mm)] for one in laid]
            for case, laid in plan.layouts.items()
        },
        "left": [[one.gear, one.count, one.reason] for one in plan.left],
        "levels": [[one.name, one.value, one.bound, one.engine] for one in plan.levels],
        "engine": plan.engine,
        "seed": plan.seed,
        "seconds": plan.seconds,
        "notes": list(plan.notes),
        "breaches": None if plan.breaches is None else list(plan.breaches),
    }


def plan_of(data: Mapping[str, Any]) -> Plan:
    breaches = data["breaches"]
    return Plan(
        contents={case: tuple((ident, count) for ident, count in lines) for case, lines in data["contents"].items()},
        vans=dict(data["vans"]),
        layouts={
            case: tuple(Placed(gear, tuple(at), tuple(size)) for gear, at, size in laid)
            for case, laid in data["layouts"].items()
        },
        left=tuple(Left(*one) for one in data["left"]),
        levels=tuple(Level(*one) for one in data["levels"]),
        engine=data["engine"], seed=data["seed"], seconds=data["seconds"], notes=tuple(data["notes"]),
        breaches=None if breaches is None else tuple(breaches),
    )  # fmt: skip
