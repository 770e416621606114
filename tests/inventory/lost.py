"""A simulated world in which things get lost, and it is known where they really are.

Two sister systems go to a venue and back. One thing a trip is lost in one of the ways that the trade tells of; what
the book knows of it is what people scanned. The shares of the ways, and how often people scan, are assumptions,
written here; the ranking knows none of them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from random import Random

from inventory.answers.likely import Seen, Spot, Trail

T0 = datetime(2026, 3, 1, 8, tzinfo=UTC)
STORE, VENUE, ROAD, HANDS = 1, 2, 3, (4, 5, 6)
CASES, THINGS = 5, 5  # cases of each system, things in each
WAYS = {"left at the venue": 30, "in another case": 20, "swapped with its twin": 10, "in somebody's hands": 15,
        "put down at the store": 12, "overlooked in its case": 13}  # fmt: skip
SCANS_AT_STRIKE, LOOKS_AT_RETURN, USED_BY_HAND = 0.7, 0.85, 0.3


@dataclass
class Loss:
    way: str
    true_place: int
    trail: Trail


class Trip:
    """One trip of two systems. Cases are 100.., their insides 1100.., things 200.. (system, case, number)."""

    def __init__(self, random: Random) -> None:
        self.random = random
        self.rows: list[Seen] = []
        self.cases = [100 + n for n in range(2 * CASES)]
        self.home = {200 + n: 1100 + n // THINGS for n in range(2 * CASES * THINGS)}
        self.lost = random.choice([item for item in self.home if item < 200 + CASES * THINGS])
        self.twin = self.lost + CASES * THINGS
        self.way = random.choices(list(WAYS), WAYS.values())[0]
        self.true_place = 0

    def scan(self, at: datetime, item: int, place: int | None, verb: str, own: bool = True) -> None:
        self.rows.append(Seen(at, item, place, own, verb, "Ana Rell"))

    def run(self) -> Loss:
        self._out()
        self._at_the_venue(T0 + timedelta(days=1))
        self._strike(T0 + timedelta(days=3))
        self._back(T0 + timedelta(days=4))
        spots = {STORE: Spot("Mill Yard"), VENUE: Spot("Fjellmark Hall"), ROAD: Spot("road", is_road=True)}
        spots |= {hands: Spot(f"person {hands}", is_hands=True) for hands in HANDS}
        spots |= {1000 + case: Spot(f"case {case}", case) for case in self.cases}
        rows = tuple(sorted(self.rows, key=lambda row: row.at))
        twins = {self.twin: self.home[self.twin]}
        return Loss(self.way, self.true_place, Trail(self.lost, rows, spots, self.home[self.lost], twins))

    def _out(self) -> None:
        for n, (item, case) in enumerate(self.home.items()):
            self.scan(T0 + timedelta(minutes=n), item, case, "packed")
        for case in self.cases:
            self.scan(T0 - timedelta(days=1), case, STORE, "placed")
            self.scan(T0 + timedelta(hours=12), case, ROAD, "departed")
            self.scan(T0 + timedelta(hours=20), case, VENUE, "arrived")

    def _at_the_venue(self, at: datetime) -> None:
        """Some things are scanned out of their cases; some go into somebody's hands."""
        for n, item in enumerate(self.home):
            if self.random.random() < 0.5:
                self.scan(at + timedelta(minutes=n), item, VENUE, "placed")
            if self.random.random() < USED_BY_HAND or (item == self.lost and self.way == "in somebody's hands"):
                hands = self.random.choice(HANDS)
                told = item != self.lost or self.random.random() < 0.7
                if told:
                    self.scan(at + timedelta(hours=3, minutes=n), item, hands, "handed over")
                if item == self.lost and self.way == "in somebody's hands":
                    self.true_place = hands

    def _strike(self, at: datetime) -> None:
        for n, (item, case) in enumerate(self.home.items()):
            goes = self._goes(item, case)
            if goes and self.random.random() < SCANS_AT_STRIKE * (0.5 if goes != case else 1):
                self.scan(at + timedelta(minutes=n), item, goes, "packed")
        for case in self.cases:
            self.scan(at + timedelta(hours=6), case, ROAD, "departed")
            self.scan(at + timedelta(hours=18), case, STORE, "arrived")

    def _goes(self, item: int, case: int) -> int:
        """Into which case it really goes at strike; 0 for none."""
        if item == self.lost:
            return self._lost_goes(case)
        return self.home[self.lost] if item == self.twin and self.way == "swapped with its twin" else case

    def _lost_goes(self, case: int) -> int:
        if self.way == "left at the venue":
            self.true_place = VENUE
        elif self.way == "in another case":
            others = [1000 + one for one in self.cases if 1000 + one != case]
            self.true_place = self.home[self.twin] if self.random.random() < 0.4 else self.random.choice(others)
        elif self.way == "swapped with its twin":
            self.true_place = self.home[self.twin]
        elif self.way == "put down at the store":
            self.true_place = STORE
            return case
        elif self.way == "overlooked in its case":
            self.true_place = case
        return 0 if self.way in ("left at the venue", "in somebody's hands") else self.true_place

    def _back(self, at: datetime) -> None:
        """Checked in thing by thing, unless a case is put aside; the lost one is missed."""
        others = [one for one in self.home if one != self.lost]
        for n, item in enumerate(others):
            where = self._goes(item, self.home[item])
            if self.random.random() < LOOKS_AT_RETURN:
                self.scan(at + timedelta(minutes=n), item, where, "seen")
        self.scan(at + timedelta(hours=5), self.lost, None, "missed")


def losses(count: int, seed: int = 7) -> Iterator[Loss]:
    random = Random(seed)  # noqa: S311 - a simulation, no secret
    for _ in range(count):
        yield Trip(random).run()


def last_seen(trail: Trail) -> list[int]:
    """The naive answer: the places of its newest sights, newest first."""
    rows = [row for row in trail.of(trail.item) if row.own and row.place is not None]
    return list(dict.fromkeys(row.place for row in reversed(rows)))
