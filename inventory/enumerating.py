"""Names one after another, as a sentence says them."""

from __future__ import annotations

from collections.abc import Iterable

MOST = 5


def all_of(names: Iterable[str]) -> str:
    """ "HER-01, HER-02 and HER-03"."""
    *first, last = list(names) or [""]
    return f"{', '.join(first)} and {last}" if first else last


def some_of(names: Iterable[str], most: int = MOST) -> str:
    """All of a few names; of many the first, and how many more: "HER-01, HER-02 and 7 more". Never "1 more"."""
    told = list(names)
    return all_of(told if len(told) <= most + 1 else [*told[:most], f"{len(told) - most} more"])
