"""Dates as people write them, with the order of day and month decided per column."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from inventory.exchange.raw import Cell, Form

_ISO = re.compile(r"^(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[T ].*)?$")
_THREE = re.compile(r"^(\d{1,2})\s*[-/. ]\s*(\d{1,2})\s*[-/. ]\s*(\d{4}|\d{2})$")
_NAMED = re.compile(
    r"^(?:(\d{1,2})(?:st|nd|rd|th)?[\s\-.]+([a-z]{3,9})|([a-z]{3,9})[\s\-.]+(\d{1,2})(?:st|nd|rd|th)?)"
    r"[\s\-.,]+(\d{4}|\d{2})$"
)
_MONTHS = (
    "january", "february", "march", "april", "may", "june",
    "july", "august", "september", "october", "november", "december",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Day:
    """A date with its possible readings."""

    day_first: date | None
    month_first: date | None

    @property
    def is_ambiguous(self) -> bool:
        return self.day_first is not None and self.month_first is not None and self.day_first != self.month_first

    @property
    def evidence(self) -> str:
        if self.day_first is not None and self.month_first is not None:
            return ""
        return "day" if self.day_first is not None else "month"

    def read(self, order: str) -> date | None:
        if self.is_ambiguous:
            return {"day": self.day_first, "month": self.month_first}.get(order)
        return self.day_first or self.month_first


def day_of(cell: Cell) -> Day | None:
    """The date in a cell, or None if it is none."""
    if isinstance(cell.value, datetime):
        return Day(cell.value.date(), cell.value.date())
    if isinstance(cell.value, date):
        return Day(cell.value, cell.value)
    if cell.form is not Form.TEXT:
        return None
    text = cell.text.strip().lower()
    if found := _ISO.match(text):
        day = _made(*(int(part) for part in found.groups()[:3]))
        return Day(day, day) if day else None
    if found := _NAMED.match(text):
        return _named(found)
    if found := _THREE.match(text):
        first, second, year = int(found[1]), int(found[2]), _year(found[3])
        day = Day(_made(year, second, first), _made(year, first, second))
        return day if day.day_first or day.month_first else None
    return None


def _named(found: re.Match[str]) -> Day | None:
    name = found[2] or found[3]
    month = next(
        (number for number, month in enumerate(_MONTHS, 1) if month.startswith(name[:4]) or name == month[:3]), 0
    )
    day = _made(_year(found[5]), month, int(found[1] or found[4]))
    return Day(day, day) if day else None


def _year(text: str) -> int:
    return int(text) if len(text) == 4 else 2000 + int(text)


def _made(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None


def day_order(cells: Iterable[Cell]) -> tuple[str, bool]:
    """(order, is it needed): decided from the unambiguous dates of a column, else ''."""
    days = [day for cell in cells if (day := day_of(cell))]
    seen = {day.evidence for day in days} - {""}
    return (seen.pop() if len(seen) == 1 else ""), any(day.is_ambiguous for day in days)
