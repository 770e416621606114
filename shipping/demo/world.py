"""The cast and the clock of the demo world: names to rows, offsets to moments."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from inventory import ledger
from inventory.ledger import Fact, Witness
from inventory.models import DayPass, DriveSet, Entry, Grade, Item, Organisation, Person, Place, System, Verb
from shipping.models import Consignment, Leg, Show

_STEP = re.compile(r"(\d+)([dhm])")
_UNITS = {"d": "days", "h": "hours", "m": "minutes"}


@dataclass
class World:
    """All that the story speaks of, by name. `zero` is the moment of loading: 23:40 at the venue."""

    zero: datetime
    organisations: dict[str, Organisation] = field(default_factory=dict)
    people: dict[str, Person] = field(default_factory=dict)
    places: dict[str, Place] = field(default_factory=dict)
    systems: dict[str, System] = field(default_factory=dict)
    sets: dict[str, DriveSet] = field(default_factory=dict)
    things: dict[str, Item] = field(default_factory=dict)
    shows: dict[str, Show] = field(default_factory=dict)
    consignments: dict[str, Consignment] = field(default_factory=dict)
    legs: dict[str, Leg] = field(default_factory=dict)
    passes: dict[str, DayPass] = field(default_factory=dict)
    witnesses: dict[str, Witness] = field(default_factory=dict)

    def when(self, offset: str) -> datetime:
        """A moment from words like "-3d4h20m" or "+5d"."""
        sign = -1 if offset.startswith("-") else 1
        parts = {_UNITS[unit]: int(count) for count, unit in _STEP.findall(offset)}
        return self.zero + sign * timedelta(**parts)

    def inside(self, name: str) -> Place:
        """The inside of a case or vehicle, else the place of that name."""
        thing = self.things.get(name)
        return thing.inside if thing is not None else self.places[name]

    def drive(self, set_name: str, bay: str) -> Item:
        return self.things[f"{set_name} {bay}"]

    def home_items(self, case: str) -> list[Item]:
        return [item for item in self.things.values() if item.home_case_id == self.things[case].pk]

    def tell(self, who: str, offset: str, facts: Sequence[Fact]) -> list[Entry]:
        """Record one act by a person of the cast at that moment, as if it had arrived at once."""
        return ledger.record(facts, by=self.witnesses[who], at=self.when(offset))

    def do(self, who: str, offset: str, verb: str, thing: str | Item | None = None, **more: Any) -> Entry:
        """Record a single fact; `place` may be a name."""
        if isinstance(more.get("place"), str):
            more["place"] = self.inside(more["place"])
        item = self.things[thing] if isinstance(thing, str) else thing
        return self.tell(who, offset, [Fact(verb, item, **more)])[0]

    def put(
        self, who: str, offset: str, names: Iterable[str], place: str, verb: str = Verb.PLACED, **more: Any
    ) -> None:
        """Scan several things into one place."""
        where = self.inside(place)
        grade = more.pop("grade", Grade.SCAN)
        self.tell(who, offset, [Fact(verb, self.things[name], place=where, grade=grade, **more) for name in names])
