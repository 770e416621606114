"""Loads to plan, made by filling cases exactly and shuffling: the fewest cases are then known beforehand."""

from __future__ import annotations

import random
import time
from collections import Counter, defaultdict
from collections.abc import Callable

from shipping.packing.wanted import Gear, Job, Shell, Van

TRUNK = (1200, 600, 600)
PIECES = ((600, 300, 200), (400, 300, 300), (300, 200, 200), (600, 600, 150), (400, 200, 150))


def seconds(many: float) -> Callable[[], float]:
    """A clock for the planner that runs out."""
    end = time.monotonic() + many
    return lambda: max(0.0, end - time.monotonic())


def rack_case(ident: str, units: int = 12, **more: object) -> Shell:
    return Shell(**{"id": ident, "name": f"rack {ident}", "families": ("rack",), "tare_g": 25_000,
                    "max_gross_g": 150_000, "units": units, "depth_mm": 800} | more)  # fmt: skip


def trunk(ident: str, **more: object) -> Shell:
    return Shell(**{"id": ident, "name": f"trunk {ident}", "families": ("loose",), "tare_g": 30_000,
                    "max_gross_g": 160_000, "inside_mm": TRUNK} | more)  # fmt: skip


def box(ident: str, **more: object) -> Shell:
    return Shell(**{"id": ident, "name": f"box {ident}", "families": ("drive",), "tare_g": 4_000,
                    "max_gross_g": 20_000, "slots": 6} | more)  # fmt: skip


def filled(scale: int, seed: int = 0) -> tuple[Job, int]:
    """A load with every rule switched on, and the fewest cases it needs; scale 100 makes about 40 things."""
    dice = random.Random(seed)
    racks, trunks, boxes = max(1, scale // 40), max(1, scale // 60), max(2, scale // 30)
    kinds: dict[str, Gear] = {}
    counts: Counter[str] = Counter()
    lives: dict[str, Counter[str]] = defaultdict(Counter)
    every = [*(f"R{at:03}" for at in range(racks * 2)), *(f"T{at:03}" for at in range(trunks * 2))]

    def add(gear: Gear, many: int, homes: list[str]) -> None:
        kinds[gear.id] = gear
        counts[gear.id] += many
        for _ in range(many):
            lives[gear.id][dice.choice(homes)] += 1

    for _ in range(racks):
        for units in _cut(12, dice):
            depth = dice.choice((400, 650))
            add(Gear(f"rack-{units}-{depth}", f"{units} U", "rack", 1, 4_000 * units, units=units, depth_mm=depth), 1,
                every[: racks * 2])  # fmt: skip
    for at in range(trunks):
        size = PIECES[at % len(PIECES)]
        many = (TRUNK[0] // size[0]) * (TRUNK[1] // size[1]) * (TRUNK[2] // size[2])
        add(Gear(f"piece-{at % len(PIECES)}", "piece", "loose", 1, 1_200, size_mm=size, upright=True), many,
            every[racks * 2 :])  # fmt: skip
    drives = boxes * 6
    for at in range(2):
        add(Gear(f"copy-{at}", f"copy {at + 1} of the final", "drive", 1, 700, slots=1, apart="final"), 1, ["B000"])
    add(Gear("set", "a set", "drive", 1, 700, slots=1, together="set"), 4, ["B001"])
    add(Gear("drive", "drive", "drive", 1, 700, slots=1), drives - 6, [f"B{at:03}" for at in range(boxes)])
    gear = tuple(_with(kinds[ident], counts[ident], lives[ident]) for ident in sorted(kinds))
    shells = [rack_case(one) if one[0] == "R" else trunk(one) for one in every]
    shells += [box(f"B{at:03}") for at in range(boxes * 2)]
    payload = sum(one.mass_g * one.count for one in gear) + sum(one.tare_g for one in shells)
    job = Job(gear, tuple(shells), (Van("V1", "one", payload // 2), Van("V2", "two", payload // 2)))
    return job, racks + trunks + boxes


def _cut(units: int, dice: random.Random) -> list[int]:
    parts = []
    while units:
        parts.append(min(units, dice.randint(1, 5)))
        units -= parts[-1]
    return parts


def _with(gear: Gear, count: int, homes: Counter[str]) -> Gear:
    fields = {name: getattr(gear, name) for name in gear.__slots__}
    most = 6 if gear.family == "drive" else 10**6
    return Gear(**fields | {"count": count, "homes": tuple(sorted((c, min(n, most)) for c, n in homes.items()))})
