"""Whole contents of cases to choose from: each case takes one at most, so that everything goes, into few cases.

The relaxation (parts of contents allowed) prices things; at those prices better contents are filled (pricing.py), until
none is found. Then contents are fixed one after another, the surest first, and the rest is priced anew each time: a
plan near the relaxed optimum, in seconds where a search over single things takes minutes (column generation with
diving; Gilmore and Gomory 1961, Sadykov and others 2019). It proves nothing; bounds come from elsewhere.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import highspy
import numpy as np

from shipping.packing.planner import boxes
from shipping.packing.planner.engines import Quiet, Stop
from shipping.packing.planner.pricing import TINY, Array, Greedy, Stock
from shipping.packing.planner.trunks import has_room_gear
from shipping.packing.wanted import Content, Job

Remaining = Callable[[], float]
LEFT_COSTS = 20.0  # what a thing left behind costs, in things moved: more than any price that was seen
SMOOTH, ROUNDS, PER_CASE = 0.6, 4, 8
SURE = 0.9


@dataclass(frozen=True)
class Column:
    """One content of one case: how many of each bundle, and how many things it leaves at home."""

    case: int
    counts: Array
    kept: float


@dataclass(frozen=True)
class Dived:
    """What came out: the contents, and how many of which kind stay behind."""

    contents: dict[str, Content]
    left: dict[str, int]


class Master:
    """The relaxation: rows for bundles, cases and how many cases; the first columns leave a bundle behind."""

    def __init__(self, stock: Stock, most_cases: int, weight: float) -> None:
        self.stock, self.weight, self.columns, self.seen = stock, weight, list[Column](), set[bytes]()
        self.bundles, self.cases = len(stock.bundles), len(stock.job.shells)
        self.solver = Quiet()  # type: ignore[no-untyped-call]
        self.solver.silent()
        self.solver.setOptionValue("threads", 1)
        none = np.array([], np.int32), np.array([], float)
        for many in stock.counts:
            self.solver.addRow(float(many), highspy.kHighsInf, 0, *none)
        for limit in [1] * self.cases + [most_cases]:
            self.solver.addRow(-highspy.kHighsInf, float(limit), 0, *none)
        for at, things in enumerate(stock.things):
            cost = LEFT_COSTS * float(things)
            self.solver.addCol(cost, 0, highspy.kHighsInf, 1, np.array([at], np.int32), np.ones(1))

    def add(self, column: Column) -> bool:
        """One more content to choose; False where it stands there already."""
        if (key := _key(column)) in self.seen:
            return False
        self.seen.add(key)
        these = np.flatnonzero(column.counts)
        rows = np.array([*these, self.bundles + column.case, self.bundles + self.cases], np.int32)
        weights = np.array([*column.counts[these], 1.0, 1.0])
        cost = -self.weight * column.kept
        self.solver.addCol(cost, 0, highspy.kHighsInf, len(rows), rows, weights)
        self.columns.append(column)
        return True

    def solve(self) -> Array:
        """Prices of the rows."""
        self.solver.run()
        return np.array(self.solver.getSolution().row_dual)

    def chosen(self) -> Array:
        """How much of each content is chosen."""
        return np.array(self.solver.getSolution().col_value)[self.bundles :]

    def dear(self) -> Array:
        """What choosing each content would cost beyond the optimum."""
        return np.array(self.solver.getSolution().col_dual)[self.bundles :]

    def forbid(self, at: int) -> None:
        self.solver.changeColBounds(self.bundles + at, 0, 0)

    def fix(self, at: int) -> None:
        self.solver.changeColBounds(self.bundles + at, 1, 1)


@dataclass
class Columns:
    """One family; at most so many cases. `weight`: what a thing kept at home counts beside the cases being full.

    With a small weight fewer things stay behind, and contents that are equally full still keep most at home.
    """

    job: Job
    most_cases: int
    weight: float
    stop: Stop
    dice: np.random.Generator = field(default_factory=lambda: np.random.default_rng(0))
    _pool: list[Column] = field(default_factory=list)
    _lies: dict[bytes, bool] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.stock = Stock(self.job)
        self.greedy = [Greedy(self.stock, sort) for sort in self.stock.sorts]

    def relax(self, remaining: Remaining) -> None:
        """Contents to begin with: all that are found while the relaxation gets better."""
        master = Master(self.stock, self.most_cases, self.weight)
        for column in self._pool:
            master.add(column)
        middle = np.full(len(self.stock.bundles), 0.5)
        while remaining() > 0 and not self.stop.is_set:
            duals = master.solve()
            mine = duals[: master.bundles]
            middle = SMOOTH * middle + (1 - SMOOTH) * mine
            if not (self._priced(master, duals, middle) or self._priced(master, duals, mine)):
                break
        master.solve()
        self._thin(master)

    def _thin(self, master: Master) -> None:
        """Of each case only the contents nearest to being chosen are kept to dive with."""
        dear = master.dear()
        rank: dict[int, int] = {}
        self._pool = []
        for at in np.argsort(dear, kind="stable"):
            column = master.columns[at]
            rank[column.case] = rank.get(column.case, 0) + 1
            if rank[column.case] <= PER_CASE or dear[at] <= TINY:
                self._pool.append(column)

    def _priced(self, master: Master, duals: Array, prices: Array, without: frozenset[int] = frozenset()) -> int:
        """Contents that would make the relaxation better, added; how many."""
        found = 0
        for column in self._filled(np.clip(prices, 0, None)):
            if column.case in without:
                continue
            cost = -master.weight * column.kept - duals[: master.bundles] @ column.counts
            cost -= duals[master.bundles + column.case] + duals[-1]
            found += cost < -1e-6 and master.add(column)
        return found

    def _filled(self, prices: Array) -> list[Column]:
        """For each case the dearest content that is found, of the sort that is worth more there."""
        each = [greedy.fill(prices, self.weight) for greedy in self.greedy]
        best = np.argmax([worth for worth, _ in each], axis=0)
        return [Column(case, each[at][1].counts[case], float(each[at][1].kept[case])) for case, at in enumerate(best)]

    def dive(self, remaining: Remaining) -> Dived:
        """Contents fixed one after another; what then goes into none of them is left behind."""
        run = _Dive(self)
        while len(run.fixed) < self.most_cases and remaining() > 0 and not self.stop.is_set and run.step():
            pass
        for greedy in self.greedy:
            greedy.limit(self.stock.counts)
        return run.result()

    def lies(self, column: Column) -> bool:
        """Is there a layout of it?"""
        if (key := _key(column)) not in self._lies:
            content = self.stock.content(column.counts)
            shell = self.job.shells[column.case]
            laid = not has_room_gear(self.job, content) or boxes.lay_out(self.job, shell, content) is not None
            self._lies[key] = laid
        return self._lies[key]


class _Dive:
    def __init__(self, of: Columns) -> None:
        self.of, self.waiting, self.fixed = of, of.stock.counts.copy(), dict[int, Column]()
        self.master, self.closed = Master(of.stock, of.most_cases, of.weight), set[int]()
        for column in of._pool:
            self.master.add(column)

    def step(self) -> bool:
        """One or some more contents are fixed, or one is given up; False when there is none to fix."""
        for _ in range(ROUNDS if self.fixed else 0):
            duals = self.master.solve()
            prices = duals[: self.master.bundles]
            if not self.of._priced(self.master, duals, prices, frozenset(self.fixed)):
                break
        self.master.solve()
        chosen = self.master.chosen()
        order = [at for at in np.argsort(-self._shaken(chosen), kind="stable") if chosen[at] > 1e-6]
        order = [at for at in order if self.master.columns[at].case not in self.fixed and at not in self.closed]
        done = False
        for at in order:
            if not done or chosen[at] > SURE:
                done = self._settle(int(at)) or done
        self._less()
        return bool(order)

    def _shaken(self, chosen: Array) -> Array:
        """A little luck, so that another dive goes another way."""
        return chosen * self.of.dice.uniform(0.7, 1.0, len(chosen))

    def _settle(self, at: int) -> bool:
        column = self.master.columns[at]
        if column.case in self.fixed or np.any(column.counts > self.waiting + TINY):
            return False
        if not self.of.lies(column):
            self._close(at)
            return False
        self.fixed[column.case] = column
        self.waiting = self.waiting - column.counts
        self.master.fix(at)
        return True

    def _close(self, at: int) -> None:
        self.closed.add(at)
        self.master.forbid(at)

    def _less(self) -> None:
        """Contents with more of something than is still waiting are no longer there to be chosen."""
        for at, column in enumerate(self.master.columns):
            if column.case not in self.fixed and at not in self.closed and np.any(column.counts > self.waiting + TINY):
                self._close(at)
        for greedy in self.of.greedy:
            greedy.limit(self.waiting)

    def result(self) -> Dived:
        job, stock = self.of.job, self.of.stock
        contents = {job.shells[case].id: stock.content(one.counts) for case, one in sorted(self.fixed.items())}
        packed: dict[str, int] = {}
        for content in contents.values():
            for ident, many in content:
                packed[ident] = packed.get(ident, 0) + many
        left = {one.id: one.count - packed.get(one.id, 0) for one in job.gear if one.count > packed.get(one.id, 0)}
        return Dived({case: held for case, held in contents.items() if held}, left)


def _key(column: Column) -> bytes:
    return bytes([column.case % 256, column.case // 256]) + column.counts.astype(np.int16).tobytes()
