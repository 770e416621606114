"""Freights and floor plans as data and back: what is stored of them, and what a floor file says. Pure."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import astuple
from typing import Any

from shipping.packing.floor.deck import Axle, Cargo, FloorPlan, Freight, Spot
from shipping.packing.kept import given, kg_of
from shipping.packing.wanted import Left, Level


def as_file(freight: Freight) -> dict[str, Any]:
    """The freight as a floor file has it (docs/load-files.md): `reading.freight_of` reads it back to the same."""
    deck = freight.deck
    vehicle = {
        "id": deck.id, "name": deck.name, "inside_mm": list(deck.size_mm), "tiers": deck.tiers, "play_mm": deck.play_mm,
        **given({"door_mm": list(deck.door_mm) if deck.door_mm else None, "front_percent": deck.front_pct,
                 "floor_first": deck.floor_first, "axles": [_axle(one) for one in deck.axles] or None}),
        **_masses(payload_kg=deck.payload_g, lift_kg=deck.lift_g),
    }  # fmt: skip
    return {"stops": list(deck.stops), "vehicle": vehicle, "cases": [_cargo(one) for one in freight.cargo]}


def _masses(**grams: int | None) -> dict[str, float | int]:
    """Nothing entered is left out; nought is said."""
    return {name: kg_of(value) for name, value in grams.items() if value is not None}


def _axle(one: Axle) -> dict[str, Any]:
    return {"name": one.name, "at_mm": one.at_mm, **_masses(limit_kg=one.limit_g, empty_kg=one.empty_g)}


def _cargo(one: Cargo) -> dict[str, Any]:
    row: dict[str, Any] = {"id": one.id, "name": one.name, "stop": one.stop, "count": one.count}
    row |= given({"size_mm": list(one.size_mm) if one.size_mm else None, "first_off": one.first_off})
    row |= _masses(mass_kg=one.mass_g, on_top_kg=one.on_top_g)
    return row | ({} if one.turns else {"turns": False}) | ({} if one.stacks else {"stacks": False})


def digest_of(freight: Freight) -> str:
    """SHA-256 over everything that was asked; the order of cases does not count."""
    asked = as_file(freight)
    asked["cases"] = sorted(asked["cases"], key=lambda one: str(one["id"]))
    return hashlib.sha256(json.dumps(asked, sort_keys=True, ensure_ascii=False).encode()).hexdigest()


def plan_data(plan: FloorPlan) -> dict[str, Any]:
    """A plan as it is stored; `plan_of` gives the same plan back."""
    return {
        "spots": [list(astuple(one)) for one in plan.spots],
        "left": [[one.gear, one.count, one.reason] for one in plan.left],
        "levels": [[one.name, one.value, one.bound, one.engine] for one in plan.levels],
        "first_off_kept": plan.first_off_kept,
        "area_bound_mm": plan.area_bound_mm,
        "engine": plan.engine,
        "seed": plan.seed,
        "seconds": plan.seconds,
        "notes": list(plan.notes),
        "conflict": [list(one) for one in plan.conflict],
        "breaches": None if plan.breaches is None else list(plan.breaches),
    }


def plan_of(data: Mapping[str, Any]) -> FloorPlan:
    breaches = data["breaches"]
    return FloorPlan(
        spots=tuple(Spot(ident, tuple(at), tuple(size), *rest) for ident, at, size, *rest in data["spots"]),
        left=tuple(Left(*one) for one in data["left"]),
        levels=tuple(Level(*one) for one in data["levels"]),
        first_off_kept=data["first_off_kept"], area_bound_mm=data["area_bound_mm"], engine=data["engine"],
        seed=data["seed"], seconds=data["seconds"], notes=tuple(data["notes"]),
        breaches=None if breaches is None else tuple(breaches),
        conflict=tuple((ident, count) for ident, count in data.get("conflict", ())),
    )  # fmt: skip
