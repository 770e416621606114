"""Plans beside first-fit decreasing and the bounds, in one run: python -m tests.benchmarks.plans [--seeds N].

Cut loads have the fewest cases by construction, tour and fly loads do not; every rule is on, those of air in fly loads.
Seconds are wall clock, so it wants two cores for itself; `cpu` is processor time of both engines. It ends with 1 if a
target is missed; the last column says which.
"""

from __future__ import annotations

import argparse
import sys
import time
from dataclasses import dataclass, field

from shipping.packing.planner import firstfit
from shipping.packing.planner.cases import CASES, MOVES
from shipping.packing.planner.engines import Stop
from shipping.packing.planner.families import families
from shipping.packing.planner.pooled import Pooling
from shipping.packing.planner.solver import Planner
from shipping.packing.wanted import Job, Level, Plan, moves
from tests.shipping.packing.loads import seconds
from tests.shipping.packing.tours import cut_load, fly_load, tour_load

BUDGET = {100: 5.0, 300: 10.0, 600: 20.0}
PROVEN_WITHIN = {100: 1.0, 300: 3.0, 600: 10.0}
FIRST_WITHIN, GAP, SHARE_OF_MOVES, ROUNDS = 0.2, 0.03, 0.5, 3
HEAD = (
    "load         things kinds fleet | built volume   FFD (left) cases bound proven |   FFD moves bound    gap proven |"
    " first trunks rounds   cpu | missed"
)


@dataclass
class Run:
    """One load planned, and when what was known. `built` is the fewest cases by construction, None where not known."""

    name: str
    job: Job
    scale: int
    built: int | None
    first: float = 0.0
    cpu: float = 0.0
    proven_at: dict[str, float] = field(default_factory=dict)
    plan: Plan = field(default_factory=Plan)

    def measure(self) -> Run:
        begun, worked = time.monotonic(), time.process_time()

        def hear(_: Plan) -> None:
            self.first = self.first or time.monotonic() - begun

        def tell(name: str, value: int, bound: int) -> None:
            if value == bound:
                self.proven_at.setdefault(name, time.monotonic() - begun)
            else:
                self.proven_at.pop(name, None)

        self.plan = Planner(self.job, seconds(BUDGET[self.scale]), Stop(), on_plan=hear, progress=tell).run()
        self.cpu = time.process_time() - worked
        return self

    def level(self, name: str) -> Level:
        return next(one for one in self.plan.levels if one.name == name)

    def missed(self) -> list[str]:
        """The targets that this run did not reach."""
        by_size = firstfit.first_fit(self.job)
        cases, moved, within = self.level(CASES), self.level(MOVES), PROVEN_WITHIN[self.scale]
        goals = (CASES,) if self.scale == 600 else (CASES, MOVES)
        said = {
            "check": self.plan.breaches != (),
            "left more": sum(one.count for one in self.plan.left) > sum(by_size.left.values()),
            "not the built": self.built is not None and cases.value != self.built,
            "proof late": any(self.proven_at.get(name, 1e9) > within for name in goals),
            "gap": moved.gap > GAP,
            "moves": not moved.proven and moved.value > SHARE_OF_MOVES * moves(self.job, by_size.contents()),
            "first late": self.first > FIRST_WITHIN,
            "rounds": self.rounds() > ROUNDS,
        }
        return [word for word, is_so in said.items() if is_so]

    def rounds(self) -> int:
        words = next((note for note in self.plan.notes if "made less full" in note), "0")
        return int("".join(one for one in words if one.isdigit()))

    def line(self) -> str:
        by_size = firstfit.first_fit(self.job)
        cases, moved = self.level(CASES), self.level(MOVES)
        things = sum(one.count for one in self.job.gear)
        volume = sum(_poured(part) for part in families(self.job))
        built, sure = self.built or "-", {goal: self._seconds(goal) for goal in (CASES, MOVES)}
        return (
            f"{self.name:12} {things:6} {len(self.job.gear):5} {len(self.job.shells):5} | {built:>5} {volume:6} "
            f"{len(by_size.contents()):5} {sum(by_size.left.values()):>6} {cases.value:5} {cases.bound:5} "
            f"{sure[CASES]:>6} | {moves(self.job, by_size.contents()):5} {moved.value:5} {moved.bound:5} "
            f"{moved.gap:6.1%} {sure[MOVES]:>6} | {self.first:5.2f} {len(self.plan.layouts):6} "
            f"{self.rounds():6} {self.cpu:5.1f} | "
            f"{', '.join(self.missed()) or '-'}"
        )

    def _seconds(self, goal: str) -> str:
        return f"{self.proven_at[goal]:.1f}" if goal in self.proven_at else "-"


def _poured(part: Job) -> int:
    """The fewest cases if everything could be poured into trunks: a bound that needs no rule for room."""
    return Pooling(part, by_volume=True).bound([0], 1.0, Stop()).bound


def loads(scale: int, seed: int) -> list[Run]:
    job, built = cut_load(scale, seed)
    tours = [Run(f"tour {scale}/{m} {seed}", tour_load(scale, seed, models=m), scale, None) for m in (1, 3)]
    flown = Run(f"fly {scale}/2 {seed}", fly_load(scale, seed, models=2), scale, None)
    return [Run(f"cut {scale} {seed}", job, scale, built), *tours, flown]


def main() -> int:
    parser = argparse.ArgumentParser()
    parser.add_argument("--seeds", type=int, default=2)
    parser.add_argument("--only", type=int, choices=BUDGET)
    asked = parser.parse_args()
    print(HEAD)
    missed = 0
    for scale in [asked.only] if asked.only else list(BUDGET):
        for seed in range(1, asked.seeds + 1):
            for run in loads(scale, seed):
                print(run.measure().line(), flush=True)
                missed += bool(run.missed())
    print(f"{missed} of these loads miss a target.")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
