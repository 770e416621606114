"""Which contents of a case are worth most at given prices of things: all cases of a family at once, filled greedily.

Prices come from the relaxation of "choose one content for each case" (columns.py). A thing at home is worth a little
more than its price. Filled by hand rules, so a better content may exist; each one found keeps every rule of one case.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from shipping.packing.planner import fitting
from shipping.packing.planner.firstfit import Bundle, bundles
from shipping.packing.wanted import Job, Shell

Array = np.ndarray[Any, np.dtype[Any]]
TINY = 1e-9
MIXES = (0.0, 0.25, 0.5, 0.75, 1.0)


@dataclass(frozen=True)
class Filled:
    """A content for each case: how many of each bundle (cases x bundles), and how many things are at home in it."""

    counts: Array
    kept: Array


@dataclass
class Stock:
    """One family as numbers: what moves as one (`bundles`), how much of it there is, where it may go and lives."""

    job: Job

    def __post_init__(self) -> None:
        found = bundles(self.job)
        self.bundles = [bundle for bundle, _ in found]
        self.counts = np.array([many for _, many in found], float)
        self.things = np.array([sum(many for _, many in bundle) for bundle in self.bundles], float)
        cells = [(bundle, shell) for shell in self.job.shells for bundle in self.bundles]
        shape = (len(self.job.shells), len(self.bundles))
        self.most = np.array([self._most(*cell) for cell in cells], float).reshape(shape)
        self.home = np.minimum(self.most, np.array([_home(*cell) for cell in cells], float).reshape(shape))
        needs = [self._needs(*cell) for cell in cells]
        self.names = sorted({name for need in needs for name in need})
        flat = [need.get(name, 0.0) for need in needs for name in self.names]
        self.need = np.array(flat, float).reshape(*shape, len(self.names))

    @cached_property
    def sorts(self) -> list[Array]:
        """Which bundles may share a case: where batteries keep to themselves, those and the others."""
        battery = np.array([any(gear.battery for gear, _ in bundle) for bundle in self.bundles])
        parts = [~battery, battery] if self.job.split_batteries else [np.ones(len(battery), bool)]
        return [np.flatnonzero(part) for part in parts if part.any()]

    def _most(self, bundle: Bundle, shell: Shell) -> int:
        if self.job.split_batteries and len({gear.battery for gear, _ in bundle}) > 1:
            return 0
        return min(fitting.most(gear, shell, self.job) // many for gear, many in bundle)

    def _needs(self, bundle: Bundle, shell: Shell) -> dict[str, float]:
        """What one bundle takes of each limit, as a part of the whole; of things kept apart a case holds one."""
        whole, found = fitting.limits(shell), dict[str, float]()
        for gear, many in bundle:
            for name, each in fitting.needs(gear, shell).items():
                found[name] = found.get(name, 0.0) + each * many / max(1, whole.get(name, 0))
            for tag in gear.not_in_one_case:
                found[tag] = found.get(tag, 0.0) + 1.0
        return found

    def content(self, counts: Array) -> tuple[tuple[str, int], ...]:
        """The counts of one case as its content."""
        found: dict[str, int] = {}
        for at in np.flatnonzero(counts):
            for gear, many in self.bundles[at]:
                found[gear.id] = found.get(gear.id, 0) + many * round(counts[at])
        return tuple(sorted(found.items()))


def _home(bundle: Bundle, shell: Shell) -> int:
    return min(gear.at_home_in(shell.id) // many for gear, many in bundle)


class Greedy:
    """Fills every case with the bundles of one sort: dearest first for what they take, by several mixes of limits.

    Each bundle stands twice: those at home, worth their things more, and the others.
    """

    def __init__(self, stock: Stock, sort: Array) -> None:
        self.stock, self.sort = stock, sort
        home, need = stock.home[:, sort], stock.need[:, sort, :]
        self.at = np.concatenate([sort, sort])
        self.gain = np.concatenate([stock.things[sort], np.zeros(len(sort))])
        self.all = self.most = np.concatenate([home, stock.most[:, sort] - home], axis=1)
        self.need = np.concatenate([need, need], axis=1)
        mixes = self._mixes()
        self.size = np.einsum("cbl,ml->mcb", self.need, mixes).reshape(-1, len(self.at)) + TINY
        self.case = np.tile(np.arange(len(home)), len(mixes))

    def _mixes(self) -> Array:
        """Weights of the limits; what only some things need (a top layer, being alone) is not weighed."""
        names = self.stock.names
        weighed = [
            at for at, name in enumerate(names) if name == "mass" or name.split()[0] in ("units", "room", "slots")
        ]
        mixes = np.zeros((len(MIXES) if len(weighed) == 2 else len(weighed), len(names)))
        if len(weighed) == 2:
            mixes[:, weighed] = [[part, 1 - part] for part in MIXES]
        else:
            mixes[np.arange(len(weighed)), weighed] = 1
        return mixes

    def limit(self, waiting: Array) -> None:
        """From now on there is only so much of each bundle."""
        self.most = np.minimum(self.all, waiting[self.at][None, :])

    def fill(self, prices: Array, weight: float) -> tuple[Array, Filled]:
        """What the best content found for each case is worth, and that content."""
        value = prices[self.at] + self.gain * weight
        worth = np.where((self.most[self.case] > 0) & (value > TINY), value / self.size, -1.0)
        order = np.argsort(-worth, axis=1, kind="stable")
        row, last = np.arange(len(order)), int((worth > 0).sum(axis=1).max(initial=0))
        free, taken = np.full((len(order), self.need.shape[2]), 1 + TINY), np.zeros(order.shape)
        for at in order[:, :last].T:
            need = self.need[self.case, at]
            room = np.where(need > 0, free / np.where(need > 0, need, 1.0), np.inf).min(axis=1, initial=np.inf)
            many = np.where(worth[row, at] > 0, np.minimum(np.floor(room + TINY), self.most[self.case, at]), 0)
            taken[row, at] = many
            free -= need * many[:, None]
        return self._best(taken, value)

    def _best(self, taken: Array, value: Array) -> tuple[Array, Filled]:
        cases = self.stock.most.shape[0]
        if not cases:
            return np.zeros(0), Filled(np.zeros((0, len(self.stock.bundles))), np.zeros(0))
        worth = (taken @ value).reshape(-1, cases)
        best = worth.argmax(axis=0)
        mine = taken.reshape(-1, cases, taken.shape[1])[best, np.arange(cases)]
        counts, half = np.zeros((cases, len(self.stock.bundles))), len(self.sort)
        counts[:, self.sort] = mine[:, :half] + mine[:, half:]
        return worth.max(axis=0), Filled(counts, mine @ self.gain)
