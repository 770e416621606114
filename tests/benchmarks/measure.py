"""Time one thing many times beside the same work in raw SQL, in the same run: p50, p95 and their ratio."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from statistics import median, quantiles
from typing import Any

Work = Callable[[Any], object]
# As bin/serve has it. Under DEBUG every statement is written down, which costs as much again.
SERVED = {
    "DEBUG": "False", "SECRET_KEY": "k" * 60, "ALLOWED_HOSTS": "127.0.0.1,testserver",
    "PUBLIC_URL": "https://gear.example.org", "OWNER_PHONE": "1", "BEHIND_TLS": "False",
}  # fmt: skip


def _nothing() -> None:
    pass


@dataclass(frozen=True)
class Figure:
    """Milliseconds by the clock; `cpu` is the median of this process's own processor time.

    `in_all` is how much longer all runs took than all of the raw ones, so it compares rates. SQLite writes its log
    back at every second or third upload of a hundred, which takes as long again: a median is of the one or the other.
    """

    name: str
    p50: float
    p95: float
    p99: float
    cpu: float
    raw_p50: float | None
    raw_p95: float | None
    in_all: float | None

    @property
    def line(self) -> str:
        ratio = f"{self.p50 / self.raw_p50:7.1f}" if self.raw_p50 else "      -"
        raw = f"{self.raw_p50:9.2f} {self.raw_p95:9.2f}" if self.raw_p50 and self.raw_p95 else "        -         -"
        in_all = f"{self.in_all:7.1f}" if self.in_all else "      -"
        ours = f"{self.p50:9.2f} {self.p95:9.2f} {self.p99:9.2f} {self.cpu:9.2f}"
        return f"{self.name:<44} {ours} {raw} {ratio} {in_all}"


@dataclass(frozen=True)
class Taken:
    """One run: milliseconds by the clock, and of the processor."""

    clock: float
    cpu: float


WARM = 3
COLUMNS = ("p50 ms", "p95 ms", "p99 ms", "cpu ms", "raw p50", "raw p95")
HEADING = f"{'':<44} {' '.join(f'{one:>9}' for one in COLUMNS)} {'ratio':>7} {'in all':>7}"


def load() -> str:
    """How busy the machine is, in a word or two."""
    return f"load {os.getloadavg()[0]:.1f}"


def once(work: Work, case: Any, before: Callable[[], object] = _nothing) -> Taken:
    """Run it once; `before` is not timed."""
    before()
    start, cpu = time.perf_counter(), time.process_time()
    work(case)
    return Taken((time.perf_counter() - start) * 1000, (time.process_time() - cpu) * 1000)


def figure(name: str, ours: Sequence[Taken], theirs: Sequence[Taken]) -> Figure:
    """What runs came to, the first of each left out as a warm-up."""
    cut = quantiles((one.clock for one in ours[WARM:]), n=100)
    raw = quantiles((one.clock for one in theirs[WARM:]), n=100) if theirs else None
    cpu = median(one.cpu for one in ours[WARM:])
    in_all = sum(one.clock for one in ours[WARM:]) / sum(one.clock for one in theirs[WARM:]) if theirs else None
    return Figure(name, cut[49], cut[94], cut[98], cpu, raw and raw[49], raw and raw[94], in_all)


def measure(
    name: str,
    work: Work,
    cases: Sequence[Any],
    raw: Work | None = None,
    best_of: int = 1,
    before: Callable[[], object] = _nothing,
) -> Figure:
    """Run `work` and `raw` over the same cases, one after the other on each, the first three as a warm-up.

    Of `best_of` runs of each case the quickest counts. `before` is called before each run of `work`, untimed.
    """
    ours, theirs = [], []
    for case in cases:
        ours.append(min((once(work, case, before) for _ in range(best_of)), key=lambda one: one.clock))
        if raw is not None:
            theirs.append(once(raw, case))
    return figure(name, ours, theirs)
