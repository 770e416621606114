"""A small integer model that both engines read: variables with whole bounds, rows with a tag, one goal at a time."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

INFINITE = 10**12
Terms = Mapping[int, int]


@dataclass(frozen=True, slots=True)
class Row:
    """low <= sum of terms <= high; the tag says which rule it is and of what."""

    terms: dict[int, int]
    low: int
    high: int
    tag: str


@dataclass
class Model:
    lower: list[int] = field(default_factory=list)
    upper: list[int] = field(default_factory=list)
    rows: list[Row] = field(default_factory=list)
    goal: dict[int, int] = field(default_factory=dict)

    def var(self, low: int, high: int) -> int:
        self.lower.append(low)
        self.upper.append(high)
        return len(self.lower) - 1

    def row(self, terms: Terms, low: int, high: int, tag: str) -> None:
        kept = {var: weight for var, weight in terms.items() if weight}
        if kept:
            self.rows.append(Row(kept, low, high, tag))
        elif low > 0 or high < 0:
            raise ValueError(f"{tag} can hold for no plan")

    def value(self, terms: Terms, values: list[int]) -> int:
        return sum(weight * values[var] for var, weight in terms.items())

    def holds(self, values: list[int]) -> bool:
        """Does this assignment keep every bound and row?"""
        inside = all(low <= one <= high for low, one, high in zip(self.lower, values, self.upper, strict=True))
        return inside and all(row.low <= self.value(row.terms, values) <= row.high for row in self.rows)


@dataclass(frozen=True, slots=True)
class Found:
    """The best assignment an engine found (None: none in time), and the bound it proved (minimising)."""

    values: list[int] | None
    bound: int
    engine: str
    impossible: bool = False
