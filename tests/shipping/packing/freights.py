"""Decks and cases to plan: by hand, at random, and filled exactly so that the shortest rows are known beforehand."""

from __future__ import annotations

import random
from dataclasses import replace

from shipping.packing.floor.deck import Axle, Cargo, Deck, FloorPlan, Freight
from shipping.packing.floor.planner import FloorPlanner
from shipping.packing.planner.engines import Stop
from tests.shipping.packing.loads import seconds

# Sides of cases as they are common on the road; common practice, trade modules of 600 and 1200 mm among them.
SIZES = (
    (1200, 600, 600), (1200, 800, 700), (800, 600, 500), (800, 600, 800), (600, 600, 600), (600, 400, 400),
    (1200, 600, 900), (1000, 600, 700), (1100, 700, 900), (760, 560, 800), (560, 560, 700), (1140, 560, 760),
    (900, 500, 600),
)  # fmt: skip
AXLES = (Axle("front axle", -900, 3_200_000, 2_450_000), Axle("rear axle", 3300, 5_000_000, 2_300_000))


def deck(**more: object) -> Deck:
    return replace(Deck("T", "Box Teasel", (6100, 2400, 2300), 2_280_000, (2300, 2200)), **more)


def cargo(ident: str, **more: object) -> Cargo:
    return replace(Cargo(ident, ident, (800, 600, 500), 40_000, on_top_g=40_000), **more)


def planned(freight: Freight, limit: float = 5.0, **more: object) -> FloorPlan:
    return FloorPlanner(freight, seconds(limit), Stop(), **more).run()


def at_random(cases: int, stops: int, seed: int, **more: object) -> Freight:
    """So many cases of 13 sizes with masses and limits of their own, for one long deck."""
    dice = random.Random(seed)
    names = tuple(f"stop {at}" for at in range(1, stops + 1))
    long = deck(size_mm=(13_600, 2450, 2600), payload_g=24_000_000, door_mm=None, play_mm=0, stops=names)
    made = [
        Cargo(
            f"C{at:03}", f"C{at:03}", dice.choice(SIZES), dice.randrange(20, 160) * 1000, dice.randrange(stops) + 1,
            on_top_g=dice.choice((0, 60_000, 100_000, 150_000)),
        )
        for at in range(cases)
    ]  # fmt: skip
    return Freight(replace(long, **more), tuple(made))


def filled(rows: int, stops: int, seed: int) -> tuple[Freight, int]:
    """Rows filled from wall to wall, cut into cases, shuffled; and the length that no plan can beat."""
    dice = random.Random(seed)
    names = tuple(f"stop {at}" for at in range(1, stops + 1))
    made, length = [], 0
    for at in range(rows):
        depth = dice.choice((600, 800, 1200))
        length += depth
        for across in _cut(2400, dice):
            made.append(cargo(f"{at}-{len(made)}", size_mm=(depth, across, 500), stop=at % stops + 1, on_top_g=0))
    dice.shuffle(made)
    return Freight(deck(size_mm=(length, 2400, 2300), payload_g=None, play_mm=0, stops=names), tuple(made)), length


def _cut(width: int, dice: random.Random) -> list[int]:
    parts = []
    while width:
        part = min(width, dice.choice((400, 600, 800)))
        parts.append(part if width - part >= 400 or part == width else width)
        width -= parts[-1]
    return parts
