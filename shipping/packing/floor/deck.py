"""A vehicle's deck, what is to stand on it, and the plan that came out. Pure rows: grams and millimetres.

x runs from the headboard to the door, y from the left side (as the driver sees it) to the right, z from the deck up.
Ids are unique texts; the order of cases never matters. None means nobody has said.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from shipping.packing.wanted import Content, Left, Level, Recorded, Size

LENGTH, STACKED, LEFT = "deck length in rows, mm", "cases lifted onto others", "cases left behind"


@dataclass(frozen=True, slots=True)
class Axle:
    """`at_mm` behind the headboard, negative in front of it. A kingpin counts as the front axle of a trailer."""

    name: str
    at_mm: int
    limit_g: int | None = None
    empty_g: int | None = None


@dataclass(frozen=True, slots=True)
class Deck:
    """`size_mm` is length, width and height inside; `door_mm` width and height. Stops are named in driving order.

    `payload_g` is what may be planned for, margin and crew already taken off. `front_pct`: the least share of the whole
    mass on the front axles. `lift_g`: nothing heavier is lifted onto another case. `play_mm` is kept free across.
    `floor_first`: few stacks before a short load.
    """

    id: str
    name: str
    size_mm: Size
    payload_g: int | None = None
    door_mm: tuple[int, int] | None = None
    axles: tuple[Axle, ...] = ()
    front_pct: int = 0
    tiers: int = 2
    lift_g: int | None = None
    play_mm: int = 20
    stops: tuple[str, ...] = ("",)
    floor_first: bool = False

    @property
    def length_mm(self) -> int:
        return self.size_mm[0]

    @property
    def width_mm(self) -> int:
        """What a row may fill."""
        return self.size_mm[1] - self.play_mm


@dataclass(frozen=True, slots=True)
class Cargo:
    """`count` cases alike in everything. `stop` is where they get off, counted from 1.

    `on_top_g`: what may stand on one (None: nobody has said, so nothing does). `turns`: may stand crosswise.
    `stacks`: may stand on another. `first_off`: wanted nearest the door among the cases of its stop.
    """

    id: str
    name: str
    size_mm: Size | None
    mass_g: int | None = None
    stop: int = 1
    first_off: bool = False
    on_top_g: int | None = None
    turns: bool = True
    stacks: bool = True
    count: int = 1


@dataclass(frozen=True)
class Freight:
    """One deck and all that is to go on it."""

    deck: Deck
    cargo: tuple[Cargo, ...]

    @cached_property
    def by_id(self) -> dict[str, Cargo]:
        return {one.id: one for one in self.cargo}

    @property
    def cases(self) -> int:
        return sum(one.count for one in self.cargo)


@dataclass(frozen=True, slots=True)
class Spot:
    """One case where it stands: near left lower corner, turned size, and row, place from the left, tier from below."""

    cargo: str
    at_mm: Size
    size_mm: Size
    row: int
    place: int
    tier: int

    @property
    def end_mm(self) -> int:
        return self.at_mm[0] + self.size_mm[0]

    @property
    def label(self) -> str:
        """How a loader says it and types it: row.place.tier."""
        return f"{self.row}.{self.place}.{self.tier}"


@dataclass(frozen=True)
class FloorPlan(Recorded):
    """Where every case stands, what stays behind and why, and the record of how good that is.

    `first_off_kept`: the first-off cases of each stop are nearest the door. `area_bound_mm`: no layout of these cases
    at all is shorter, in rows or not. `conflict`: cases shown not to go together, that go with one less.
    """

    spots: tuple[Spot, ...] = ()
    left: tuple[Left, ...] = ()
    levels: tuple[Level, ...] = ()
    first_off_kept: bool = True
    area_bound_mm: int = 0
    engine: str = "first fit"
    seed: int = 0
    seconds: float = 0.0
    notes: tuple[str, ...] = ()
    breaches: tuple[str, ...] | None = None
    conflict: Content = ()

    @property
    def used_mm(self) -> int:
        """From the headboard to the end of the last row."""
        return max((one.end_mm for one in self.spots), default=0)
