"""Test runs: how long a thing ran, which software and show file it showed, who watched. Facts; papers print them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from inventory import ledger
from inventory.answers.loading import live
from inventory.ledger import Fact, LedgerRefusal, Witness
from inventory.models import Entry, Item, Verb

# What a `checked` entry is about; not one of the packing rules.
HOURS, SOFTWARE, SHOW_FILE = "test run", "software", "show file"


@dataclass(frozen=True, slots=True)
class Seen:
    """What was found, by whom, when."""

    value: str
    by: str
    at: datetime
    note: str = ""


@dataclass(frozen=True, slots=True)
class Trial:
    """The newest word on how long a thing ran, on its software and its show file; None where nobody has said."""

    hours: Seen | None = None
    software: Seen | None = None
    show_file: Seen | None = None


def record(
    item: Item, *, hours: str, software: str, note: str, by: Witness, at: datetime, show_file: str = ""
) -> list[Entry]:  # fmt: skip
    """Keep that a thing was run, seen with one's own eyes: hours, the software's version and the show file it shows."""
    told = {HOURS: hours.strip(), SOFTWARE: software.strip(), SHOW_FILE: show_file.strip()}
    facts = [Fact(Verb.CHECKED, item, rule=rule, value=value, note=note) for rule, value in told.items() if value]
    if not facts:
        raise LedgerRefusal("Say how long it ran, or which software or show file it shows. Nothing was kept.")
    return ledger.record(facts, by=by, at=at)


def newest(items: Iterable[int], at: datetime) -> dict[int, Trial]:
    """By item; things that nobody ran are left out. One query."""
    rows = live(at).filter(verb=Verb.CHECKED, rule__in=(HOURS, SOFTWARE, SHOW_FILE), label__item__in=list(items))
    found: dict[int, dict[str, Seen]] = {}
    for item, rule, value, by, when, note in rows.order_by("happened_at", "id").values_list(
        "label__item_id", "rule", "value", "by", "happened_at", "note"
    ):
        found.setdefault(item, {})[rule] = Seen(value, by, when, note)
    return {item: Trial(said.get(HOURS), said.get(SOFTWARE), said.get(SHOW_FILE)) for item, said in found.items()}
