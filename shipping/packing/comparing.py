"""Two plans side by side, thing by thing: what goes elsewhere, what no longer goes, what goes as well. Pure."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class Side:
    """One plan: the case of each thing by the thing's id, what all of it weighs, and how many things found no place."""

    cases: Mapping[int, str]
    gross_g: int
    left: int
    vehicles: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Shift:
    """So many of a name that were in one case and are in another; no case: it does not go."""

    count: int
    name: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Ride:
    """Cases that ride on another vehicle than before."""

    cases: tuple[str, ...]
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Comparison:
    """What is different, and nothing else. Masses in grams, after less before."""

    shifts: tuple[Shift, ...]
    closed: tuple[str, ...]
    opened: tuple[str, ...]
    rides: tuple[Ride, ...]
    gross_g: int
    left: int
    come: int
    stay: int

    @property
    def lighter_g(self) -> int:
        return max(0, -self.gross_g)

    @property
    def is_same(self) -> bool:
        return not (self.shifts or self.closed or self.opened or self.rides or self.left or self.come or self.stay)


def compare(before: Side, after: Side, names: Mapping[int, str]) -> Comparison:
    """Things that only come along, or stay with their whole case, are counted and not listed: the cases are named."""
    moved: Counter[tuple[str, str, str]] = Counter()
    for item, case in before.cases.items():
        now = after.cases.get(item, "")
        if now != case:
            moved[names.get(item, "thing"), case, now] += 1
    was, now_used = set(before.cases.values()), set(after.cases.values())
    closed = was - now_used
    stay = sum(count for (_, frm, to), count in moved.items() if not to and frm in closed)
    shifts = [Shift(count, *where) for where, count in sorted(moved.items()) if where[2] or where[1] not in closed]
    return Comparison(
        tuple(shifts), tuple(sorted(closed)), tuple(sorted(now_used - was)), _rides(before, after, was),
        after.gross_g - before.gross_g, after.left - before.left, len(set(after.cases) - set(before.cases)), stay,
    )  # fmt: skip


def _rides(before: Side, after: Side, was: set[str]) -> tuple[Ride, ...]:
    found: dict[tuple[str, str], list[str]] = defaultdict(list)
    for case, on in sorted(after.vehicles.items()):
        if case in was and before.vehicles.get(case, on) != on:
            found[before.vehicles[case], on].append(case)
    return tuple(Ride(tuple(cases), frm, to) for (frm, to), cases in sorted(found.items()))
