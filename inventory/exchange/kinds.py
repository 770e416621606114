"""Which kind of thing a word means, in a kind column or in the name of a model."""

from __future__ import annotations

import csv
from pathlib import Path

from inventory.exchange.raw import words_of
from inventory.models import Kind

LOT_WORDS = {"lot", "lots", "bulk", "loose", "counted", "counted lot"}


def _published() -> dict[str, list[str]]:
    with (Path(__file__).parent / "kinds.csv").open(encoding="utf-8", newline="") as lines:
        return {row["kind"]: row["words"].split(", ") for row in csv.DictReader(lines)}


_WORDS = _published()
_BY_WORD = {words_of(word): Kind(kind) for kind, words in _WORDS.items() for word in (kind, Kind(kind).label, *words)}
_LONGEST = max(len(word.split()) for word in _BY_WORD)


def kind_of(text: str) -> str | None:
    """The kind a cell of a kind column names, or None."""
    return _BY_WORD.get(words_of(text))


def is_lot_word(text: str) -> bool:
    return words_of(text) in LOT_WORDS


def kind_in(name: str) -> str | None:
    """The kind that the words of a model's name point to; the last and longest phrase decides."""
    words = words_of(name).split()
    for end in range(len(words), 0, -1):
        for start in range(max(0, end - _LONGEST), end):
            found = _BY_WORD.get(" ".join(words[start:end]))
            if found:
                return found
    return None


def published() -> list[tuple[str, str]]:
    """(kind, its words) for the page."""
    return [(Kind(kind).label, ", ".join(words)) for kind, words in _WORDS.items()]
