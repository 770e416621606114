"""A deck read for loading: each stack where it stands, what is lifted, and what each axle carries, in words. Pure."""

from __future__ import annotations

from shipping.packing.floor.deck import FloorPlan, Freight
from shipping.packing.floor.reasons import kg
from shipping.packing.floor.telling import stages_of


def axle_words(freight: Freight, plan: FloorPlan) -> list[tuple[str, int, str]]:
    """(name, millimetres behind the headboard, what it carries at departure and after each stop)."""
    stages = stages_of(freight, plan)
    found = []
    for at, axle in enumerate(sorted(freight.deck.axles, key=lambda one: one.at_mm)):
        said = []
        for stage in stages:
            if stage.axles:
                load = stage.axles[at]
                whole = kg(load.load_g) + " from the load" if load.total_g is None else kg(load.total_g)
                said.append(f"{whole} {stage.when}")
        limit = f"; {kg(axle.limit_g)} entered" if axle.limit_g is not None else "; no limit entered"
        found.append((axle.name, axle.at_mm, ", ".join(said) + limit if said else ""))
    return found
