"""Floor plans at random: length by hand rules, by search, and its bound, with the time; every plan checked.

    .venv/bin/python -m tests.benchmarks.bench_floor --seeds 4 --seconds 20

Cases of 13 sizes on a deck of 2,450 mm, two high at most, each with its own mass and what it carries; stops in last in,
first out order; axles are not entered. `floor` is the length below which no layout of these cases at all can be.
"""

from __future__ import annotations

import argparse
import time

from shipping.packing.floor.deck import LENGTH
from shipping.packing.floor.planner import FloorPlanner, at_once
from shipping.packing.planner.engines import Stop
from tests.shipping.packing.freights import at_random
from tests.shipping.packing.loads import seconds

SHAPES = ((20, 1), (20, 3), (60, 1), (60, 3), (120, 3))
HEADING = (
    f"{'cases':>5} {'stops':>5} {'seed':>4} {'hand mm':>8} {'hand ms':>8} {'rows mm':>8} {'bound mm':>8} "
    f"{'floor mm':>8} {'/floor':>6} {'/hand':>6} {'s':>6} {'cpu s':>6}  proven check left"
)


def line(cases: int, stops: int, seed: int, limit: float) -> str:
    freight = at_random(cases, stops, seed, size_mm=(30_000, 2450, 2600))
    start = time.perf_counter()
    first = at_once(freight)
    hand_ms = (time.perf_counter() - start) * 1000
    cpu = time.process_time()
    plan = FloorPlanner(freight, seconds(limit), Stop()).run()
    cpu = time.process_time() - cpu
    goal = next(one for one in plan.levels if one.name == LENGTH)
    floor = plan.area_bound_mm or 1
    return (
        f"{cases:>5} {stops:>5} {seed:>4} {first.used_mm:>8} {hand_ms:>8.0f} {plan.used_mm:>8} {goal.bound:>8} "
        f"{floor:>8} {plan.used_mm / floor:>6.3f} {plan.used_mm / first.used_mm:>6.3f} {plan.seconds:>6.2f} "
        f"{cpu:>6.2f}  {'yes' if plan.proven else 'no':<6} {'FAILED' if plan.breaches else 'passed'} "
        f"{cases - len(plan.spots)}"
    )


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--seeds", type=int, default=3)
    asked.add_argument("--seconds", type=float, default=20.0)
    given = asked.parse_args()
    print(HEADING)
    for cases, stops in SHAPES:
        for seed in range(1, given.seeds + 1):
            print(line(cases, stops, seed, given.seconds), flush=True)


if __name__ == "__main__":
    main()
