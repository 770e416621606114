"""The published list of columns: what each means, and every heading it is known by."""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from inventory.exchange.raw import words_of


class Reads(StrEnum):
    """How the cells of a column are read."""

    TEXT = "text"
    SERIAL = "serial"
    COUNT = "whole number"
    MASS = "mass"
    LENGTH = "length"
    SIZE = "three lengths"
    UNITS = "rack units"
    NUMBER = "number"
    MONEY = "money"
    DATE = "date"
    YES_NO = "yes or no"
    KIND = "kind"


@dataclass(frozen=True, slots=True)
class Field:
    """One column we understand. `of_type`: belongs to the make and model, not to the single thing."""

    name: str
    heading: str
    meaning: str
    reads: Reads = Reads.TEXT
    others: tuple[str, ...] = ()
    of_type: bool = False


def _fields() -> tuple[Field, ...]:
    with (Path(__file__).parent / "columns.csv").open(encoding="utf-8", newline="") as lines:
        return tuple(
            Field(
                row["name"], row["heading"], row["meaning"], Reads(row["reads"]),
                tuple(filter(None, row["also known as"].split(", "))), row["belongs to"] == "type",
            )
            for row in csv.DictReader(lines)
        )  # fmt: skip


FIELDS = _fields()
BY_NAME = {field.name: field for field in FIELDS}

# These headings are used for two different things; which one is asked, never guessed.
AMBIGUOUS: dict[str, tuple[str, ...]] = {
    "location": ("home_case", "place"),
    "where": ("home_case", "place"),
    "loc": ("home_case", "place"),
    "position": ("slot", "bay", "place"),
    "label": ("code", "number"),
    "tag": ("code", "number"),
    "id": ("code", "number"),
    "gross": ("max_gross_kg", "mass_kg"),
    "gross weight": ("max_gross_kg", "mass_kg"),
}


def _units(**words: str) -> dict[str, str]:
    """Every written form of a unit, to its symbol."""
    return {word: unit for unit, forms in words.items() for word in [unit.lower(), *forms.split()]}


MASS_UNITS = _units(kg="kgs kilo kilos kilogram kilograms", g="gr gram grams", lb="lbs pound pounds")
LENGTH_UNITS = _units(mm="", cm="", m="metre metres meter meters", **{"in": "inch inches \" \u2033 ''"})
OTHER_UNITS = _units(
    U="ru", GB="", TB="", Wh="", days="", EUR="\u20ac", GBP="\u00a3", USD="", CHF="", NOK="", SEK="", DKK=""
)
UNITS = {**MASS_UNITS, **LENGTH_UNITS, **OTHER_UNITS}

_BY_WORDS = {words_of(word): field.name for field in FIELDS for word in (field.name, field.heading, *field.others)}
_BRACKETS = re.compile(r"[(\[{]([^)\]}]*)[)\]}]")
_MARKED_FIELDS = {Reads.MASS, Reads.LENGTH, Reads.SIZE, Reads.UNITS, Reads.NUMBER, Reads.MONEY}


def field_of(heading: str) -> str | None:
    """The field a heading means, by the published list; None if it is not on it."""
    return heading_of(heading)[0]


def unit_of(heading: str) -> str:
    """The unit a heading states, or ''."""
    return heading_of(heading)[1]


def heading_of(heading: str) -> tuple[str | None, str]:
    """(field, unit) of a heading such as `Weight (kg)` or `L mm`."""
    plain = words_of(heading)
    if plain in _BY_WORDS:
        return _BY_WORDS[plain], _unit_in_brackets(heading) or (UNITS[plain] if plain in {*MASS_UNITS} else "")
    bare = words_of(_BRACKETS.sub(" ", heading))
    if bare in _BY_WORDS:
        return _BY_WORDS[bare], _unit_in_brackets(heading)
    first, _, last = plain.rpartition(" ")
    if last in UNITS and first in _BY_WORDS and BY_NAME[_BY_WORDS[first]].reads in _MARKED_FIELDS:
        return _BY_WORDS[first], UNITS[last]
    return None, ""


def _unit_in_brackets(heading: str) -> str:
    for inside in _BRACKETS.findall(heading):
        word = inside.strip().lower().strip(".")
        if word in UNITS:
            return UNITS[word]
        last = word.split()[-1:] or [""]
        if last[0] in UNITS:
            return UNITS[last[0]]
    return ""


def could_mean(heading: str) -> tuple[str, ...]:
    """The fields an ambiguous heading could mean; empty if it is not one."""
    return AMBIGUOUS.get(words_of(_BRACKETS.sub(" ", heading)), ())
