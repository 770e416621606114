"""What is to be packed, what into, and the plan that came out. Pure rows: masses in grams, lengths in millimetres.

`Gear` is a kind: so many things that are identical in every rule. Ids are unique texts; order never matters.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import NamedTuple

Size = tuple[int, int, int]
Content = tuple[tuple[str, int], ...]
ENTERED = "fewest found possible under the limits entered"
MOVED_WORDS = "Not in their usual case:"
LITHIUM, LEAD = "lithium", "lead"
NOT_AN_APPROVAL = "A calculation from entered figures, not a load-safety approval."


@dataclass(frozen=True, slots=True)
class Gear:
    """`count` identical things. It takes rack units, slots, or room (`size_mm`), by the case it goes into.

    `together`: same tag, same case. `apart`: same tag, never in one case, nor in one vehicle where there are more.
    `spare`: same tag, a part and its spare, never in one case. `copies`: same tag, never in one case, and never in one
    vehicle even if there is no other: then one stays behind. What has any of these three is one thing, not several.
    `battery`: a battery by itself. `runs_on`: how many of those a thing takes to run, so that they may fly beside it; a
    UPS takes none. `chemistry` of what it is or has in it, and `battery_mwh`, milliwatt-hours of one of them (0: nobody
    has said), are what `Air` asks.
    `convoy`: same tag, same vehicle. `homes`: (case id, how many live there). `stays`: not to leave its home case.
    `rails`: the kind of which one must be in the same case with each of these. `boxed`: only in a case made for it.
    """

    id: str
    name: str
    family: str
    count: int = 1
    mass_g: int = 0
    units: int = 0
    depth_mm: int = 0
    slots: int = 0
    size_mm: Size | None = None
    upright: bool = False
    fragile: bool = False
    battery: bool = False
    together: str = ""
    apart: str = ""
    spare: str = ""
    copies: tuple[str, ...] = ()
    convoy: str = ""
    homes: tuple[tuple[str, int], ...] = ()
    stays: bool = False
    rails: str = ""
    boxed: bool = False
    runs_on: int = 0
    chemistry: str = ""
    battery_mwh: int = 0

    @property
    def not_in_one_case(self) -> tuple[str, ...]:
        """What it is kept apart by, case by case: of each of these words one thing to a case."""
        return tuple(filter(None, (self.apart and f"apart {self.apart}", self.spare and f"spare {self.spare}",
                                   *(f"copies {one}" for one in self.copies))))  # fmt: skip

    @property
    def is_loose_lithium(self) -> bool:
        return self.battery and self.chemistry == LITHIUM

    def at_home_in(self, shell: str) -> int:
        return dict(self.homes).get(shell, 0)


@dataclass(frozen=True, slots=True)
class Shell:
    """One case, empty. It holds by rack units, by slots, or by room inside, whichever is given.

    `compartments`: slots that only one family uses, (family, how many). `lift_g`: the most it may weigh to be lifted by
    the people planned, 0 where nobody lifts it. `made_for`: the only kinds it takes, as their original packaging.
    `rides`: it does not fly though others of its load do, so `Air` does not hold for it. `off_vans`: none of the load's
    vehicles carries it, since it goes another way.
    """

    id: str
    name: str
    families: tuple[str, ...]
    tare_g: int = 0
    max_gross_g: int = 0
    units: int = 0
    depth_mm: int = 0
    slots: int = 0
    inside_mm: Size | None = None
    compartments: tuple[tuple[str, int], ...] = ()
    lift_g: int = 0
    made_for: tuple[str, ...] = ()
    rides: bool = False
    off_vans: bool = False

    @property
    def most_g(self) -> int:
        """The most it may weigh: what is entered for it, or less where people lift it."""
        return min(self.max_gross_g, self.lift_g or self.max_gross_g)

    @property
    def room_g(self) -> int:
        """How much content it may hold."""
        return max(0, self.most_g - self.tare_g)

    def slots_for(self, family: str) -> int:
        """How many slots things of a family may use here; None of another family's compartments."""
        return dict(self.compartments).get(family, 0) if self.compartments else self.slots


@dataclass(frozen=True, slots=True)
class Van:
    id: str
    name: str
    payload_g: int


@dataclass(frozen=True, slots=True)
class Air:
    """What holds of batteries in a case that flies; the figures change, so they come with the load.

    Lithium by itself goes only with what runs on it: as many as that needs and `spares` more, `net_g` of them to a case
    on a passenger aircraft. In equipment no battery is above `most_mwh`. Lead-acid is not planned at all. As `baggage`
    no battery by itself goes into a case. The rules of the same names say where this is from.
    """

    passenger: bool = True
    baggage: bool = False
    most_mwh: int = 100_000
    spares: int = 2
    net_g: int = 5_000

    def keeps_out(self, gear: Gear) -> str:
        """Why a thing may not fly in any case, as one word; "" where it may."""
        if gear.chemistry == LEAD:
            return "lead by air"
        if gear.is_loose_lithium:
            return "cabin only" if self.baggage else ""
        over = gear.chemistry == LITHIUM and gear.battery_mwh > self.most_mwh
        return "watt-hours by air" if over else ""


@dataclass(frozen=True)
class Job:
    """One load to plan. `clearance_mm` is kept behind rack gear; `split_batteries` keeps them in cases of their own.

    `air` is None where no case of it flies; where one does, `air_of` says for each case whether its limits hold.
    """

    gear: tuple[Gear, ...]
    shells: tuple[Shell, ...]
    vans: tuple[Van, ...] = ()
    clearance_mm: int = 75
    split_batteries: bool = False
    moves_first: bool = False
    air: Air | None = None

    def air_of(self, shell: Shell) -> Air | None:
        """The limits of the air as they hold for this case; None where it does not fly."""
        return None if shell.rides else self.air

    def for_vans(self, contents: Mapping[str, Content]) -> dict[str, Content]:
        """Those of the cases that a vehicle is to carry."""
        return {case: held for case, held in contents.items() if not self.cases[case].off_vans}

    def not_on_one_van(self, gear: Gear) -> tuple[str, ...]:
        """What it is kept apart by, vehicle by vehicle: copies always, the rest where there are vehicles to choose."""
        said = [one for one in gear.not_in_one_case if one.startswith("copies ") and self.vans]
        return tuple(said + [f"apart {gear.apart}"] * bool(gear.apart and len(self.vans) > 1))

    @cached_property
    def kinds(self) -> dict[str, Gear]:
        return {one.id: one for one in self.gear}

    @cached_property
    def cases(self) -> dict[str, Shell]:
        return {one.id: one for one in self.shells}


@dataclass(frozen=True, slots=True)
class Level:
    """One goal, in order: its value, the bound that was proven for it, and which engine said so."""

    name: str
    value: int
    bound: int
    engine: str = ""

    @property
    def proven(self) -> bool:
        return self.value == self.bound

    @property
    def gap(self) -> float:
        return abs(self.value - self.bound) / max(1, abs(self.value))

    @property
    def percent(self) -> str:
        """The gap in per cent, as written."""
        return f"{self.gap * 100:.1f}"


def _least(level: Level) -> str:
    return f"none below {level.bound:,} is possible" if level.bound else "how few are possible is not known"


def words_of_record(levels: tuple[Level, ...], proven: bool) -> str:
    """The one wording of how good a plan is; never that it is right to carry."""
    if proven:
        return f"{ENTERED.capitalize()}. {NOT_AN_APPROVAL}"
    open_ones = [f"{one.name}: {one.value:,}, {_least(one)}" for one in levels if not one.proven]
    tail = f" ({'; '.join(open_ones)})" if open_ones else ""
    return f"Not yet shown to be the fewest possible{tail}. {NOT_AN_APPROVAL}"


@dataclass(frozen=True, slots=True)
class Left:
    """What stays behind: how many of which kind, and the smallest reason in words."""

    gear: str
    count: int
    reason: str


@dataclass(frozen=True, slots=True)
class Placed:
    """A thing at a place inside a trunk: near corner and turned size, from the left front floor corner."""

    gear: str
    at_mm: Size
    size_mm: Size


class Recorded:
    """A plan with a record of how good it is, goal by goal."""

    levels: tuple[Level, ...]

    @property
    def proven(self) -> bool:
        return bool(self.levels) and all(level.proven for level in self.levels)

    @property
    def words(self) -> str:
        return words_of_record(self.levels, self.proven)


@dataclass(frozen=True)
class Plan(Recorded):
    """Contents per case, vehicle per case, layout per trunk, and the record of how good it is.

    `conflicts`: sets of things that were shown not to go together, while each of them with one thing less goes.
    """

    contents: dict[str, Content] = field(default_factory=dict)
    vans: dict[str, str] = field(default_factory=dict)
    layouts: dict[str, tuple[Placed, ...]] = field(default_factory=dict)
    left: tuple[Left, ...] = ()
    levels: tuple[Level, ...] = ()
    engine: str = "first fit"
    seed: int = 0
    seconds: float = 0.0
    notes: tuple[str, ...] = ()
    breaches: tuple[str, ...] | None = None
    conflicts: tuple[Content, ...] = ()


def moves(job: Job, contents: dict[str, Content]) -> int:
    """How many things are in another case than their usual one; gear without a usual case never moves."""
    held = {case: dict(content) for case, content in contents.items()}
    packed: Counter[str] = Counter()
    for content in held.values():
        packed.update(content)
    away = 0
    for gear in job.gear:
        kept = sum(min(held[case].get(gear.id, 0), many) for case, many in gear.homes if case in held)
        away += max(0, min(packed[gear.id], sum(many for _, many in gear.homes)) - kept)
    return away


class Moved(NamedTuple):
    """So many of a kind that usually live in one case and are now in another."""

    gear: str
    count: int
    usual: str
    now: str


def moved(job: Job, contents: dict[str, Content]) -> list[Moved]:
    """Only the differences from usual homes: who is where instead. Gear without a usual case is not listed."""
    found = []
    for gear in job.gear:
        here = {case: dict(content).get(gear.id, 0) for case, content in contents.items()}
        short = [[case, many - here.get(case, 0)] for case, many in gear.homes if many > here.get(case, 0)]
        for case in sorted(here):
            extra = here[case] - gear.at_home_in(case)
            while extra > 0 and short:
                count = min(extra, int(short[0][1]))
                found.append(Moved(gear.id, count, str(short[0][0]), case))
                extra, short[0][1] = extra - count, int(short[0][1]) - count
                if not short[0][1]:
                    short.pop(0)
    return found
