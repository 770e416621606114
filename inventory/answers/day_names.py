"""Days as people say them: Saturday, yesterday, last night, 14 March, 2026-03-14. Pure."""

from __future__ import annotations

import re
from datetime import date, timedelta

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
MONTHS = ("january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november",
          "december")  # fmt: skip
AROUND = {"the", "a", "set", "sets", "drive", "drives", "from", "of", "on", "last", "this", "show", "recorded", "where",
          "recording", "is", "are", "in"}  # fmt: skip
_BACK = {"today": 0, "tonight": 0, "yesterday": 1, "night": 1}


def day_meant(text: str, today: date) -> date | None:
    """The day in the past that a text means, and nothing but a day; None if it means anything else."""
    words = re.findall(r"[\w-]+", text.casefold())
    kept = [word for word in words if word not in AROUND]
    if len(kept) == 1:
        return _one_word(kept[0], today)
    if len(kept) == 2:
        return _day_and_month(*kept, today) or _day_and_month(*kept[::-1], today)
    return None


def _one_word(word: str, today: date) -> date | None:
    if word in _BACK:
        return today - timedelta(days=_BACK[word])
    found = next((n for n, name in enumerate(WEEKDAYS) if word in (name, name[:3], name + "s")), None)
    if found is not None:
        return today - timedelta(days=(today.weekday() - found) % 7)
    try:
        return date.fromisoformat(word) if re.fullmatch(r"\d{4}-\d\d-\d\d", word) else None
    except ValueError:
        return None


def _day_and_month(day: str, month: str, today: date) -> date | None:
    """The newest such day that is not in the future."""
    number = re.fullmatch(r"(\d{1,2})(st|nd|rd|th)?", day)
    found = next((n for n, name in enumerate(MONTHS, 1) if month in (name, name[:3])), None)
    if number is None or found is None:
        return None
    for year in (today.year, today.year - 1):
        try:
            told = date(year, found, int(number[1]))
        except ValueError:
            continue
        if told <= today:
            return told
    return None
