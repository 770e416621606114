"""Seal numbers as people read them on cases, each beside the number that the case was sealed with before."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import QuerySet

from inventory.answers.loading import live
from inventory.models import Entry, Verb


@dataclass(frozen=True, slots=True)
class SealLook:
    """One number read on a case. `expected`: of the sealing before it, "" where the book has none."""

    expected: str
    found: str
    by: str
    at: datetime
    show: str  # its code, where whoever looked named one

    @property
    def differs(self) -> bool:
        return self.found != self.expected


def seal_looks(cases: Iterable[int] | QuerySet[Any], at: datetime) -> dict[int, list[SealLook]]:
    """By case, oldest first: every look at its seal. A query of ids will do for the cases."""
    return _told(cases, at)[0]


def looks_since_sealing(cases: Iterable[int] | QuerySet[Any], at: datetime) -> dict[int, list[SealLook]]:
    """By case that was ever sealed by number, oldest first: the looks since it was sealed last. No case without one."""
    found, first = _told(cases, at)
    return {case: found[case][start:] for case, start in first.items() if found[case][start:]}


def _told(cases: Iterable[int] | QuerySet[Any], at: datetime) -> tuple[dict[int, list[SealLook]], dict[int, int]]:
    """The looks at each case; and of each that was sealed, how many of them came before the last time."""
    numbered = live(at).filter(label__item__in=cases, verb__in=(Verb.SEALED, Verb.SEEN, Verb.RECEIVED))
    told: QuerySet[Entry, Any] = numbered.exclude(seal="").order_by("happened_at", "id")
    sealed: dict[int, str] = {}
    first: dict[int, int] = {}
    found: dict[int, list[SealLook]] = defaultdict(list)
    columns = ("label__item_id", "verb", "seal", "by", "happened_at", "reference")
    for case, verb, number, by, when, show in told.values_list(*columns):
        if verb == Verb.SEALED:
            sealed[case], first[case] = number, len(found[case])
        else:
            found[case].append(SealLook(sealed.get(case, ""), number, by, when, show))
    return found, first
