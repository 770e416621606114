"""Time one thing many times beside the same work in raw SQL, in the same run: p50, p95 and their ratio."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from statistics import quantiles
from typing import Any

Work = Callable[[Any], object]


@dataclass(frozen=True)
class Figure:
    name: str
    p50: float
    p95: float
    p99: float
    raw_p50: float | None
    raw_p95: float | None

    @property
    def line(self) -> str:
        ratio = f"{self.p50 / self.raw_p50:7.1f}" if self.raw_p50 else "      -"
        raw = f"{self.raw_p50:9.2f} {self.raw_p95:9.2f}" if self.raw_p50 and self.raw_p95 else "        -         -"
        return f"{self.name:<44} {self.p50:9.2f} {self.p95:9.2f} {self.p99:9.2f} {raw} {ratio}"


WARM = 3
HEADING = f"{'':<44} {'p50 ms':>9} {'p95 ms':>9} {'p99 ms':>9} {'raw p50':>9} {'raw p95':>9} {'ratio':>7}"


def _milliseconds(work: Work, cases: Sequence[Any], best_of: int = 1) -> list[float]:
    return [min(_once(work, case) for _ in range(best_of)) for case in cases]


def _once(work: Work, case: Any) -> float:
    start = time.perf_counter()
    work(case)
    return (time.perf_counter() - start) * 1000


def measure(name: str, work: Work, cases: Sequence[Any], raw: Work | None = None, best_of: int = 1) -> Figure:
    """Run `work` and `raw` over the same cases, in turn, after a warm-up of each on the first three.

    Of `best_of` runs of each case the quickest counts.
    """
    for warm in cases[:WARM]:
        work(warm)
        if raw is not None:
            raw(warm)
    ours = quantiles(_milliseconds(work, cases[WARM:], best_of), n=100)
    theirs = quantiles(_milliseconds(raw, cases[WARM:]), n=100) if raw is not None else None
    return Figure(name, ours[49], ours[94], ours[98], theirs and theirs[49], theirs and theirs[94])
