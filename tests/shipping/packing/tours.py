"""Loads to measure the planner by, with every rule in them: cut from full cases, or drawn like a tour's gear.

`cut_load`: cases are filled to the brim and emptied again, so the fewest cases are known. `tour_load`: sizes and counts
are drawn from ranges that are common practice; the fewest cases are not known. `fly_load`: a tour's gear by freighter.
All hold a spare and pairs of copies, and are the same for the same seed.
"""

from __future__ import annotations

import random
from collections import Counter, defaultdict
from dataclasses import dataclass, field, replace
from itertools import cycle, permutations

from shipping.packing.planner.firstfit import Filling, bundles
from shipping.packing.planner.fitting import limits
from shipping.packing.wanted import LITHIUM, Air, Gear, Job, Shell, Size, Van
from tests.shipping.packing.loads import TRUNK, box, rack_case, trunk

DEPARTMENT = 7
CART_SLOTS, BOX_SLOTS, RACK_UNITS = 8, 6, 12
# Each goes into a trunk without a gap, all turned alike, so that a full trunk is full by room and by share.
WHOLE = ((600, 300, 200), (400, 300, 300), (300, 200, 200), (600, 600, 150), (400, 200, 150), (300, 300, 200),
         (200, 200, 200), (600, 200, 200), (300, 300, 150), (400, 300, 200))  # fmt: skip


@dataclass
class Pile:
    """Gear as it is cut, and the cases it may go into; `homed` makes a load of it whose homes are spread out."""

    dice: random.Random
    kinds: dict[str, Gear] = field(default_factory=dict)
    counts: Counter[str] = field(default_factory=Counter)
    shells: list[Shell] = field(default_factory=list)

    def add(self, gear: Gear, many: int = 1) -> None:
        self.kinds[gear.id] = gear
        self.counts[gear.id] += many

    def gear(self) -> list[Gear]:
        return [replace(self.kinds[one], count=self.counts[one]) for one in sorted(self.kinds)]


def cut_load(items: int, seed: int = 0) -> tuple[Job, int]:
    """About so many things cut from full cases, and the fewest cases that take them. Every case is full."""
    pile = Pile(random.Random(seed))
    cases = [_racks(pile, max(2, items // 20)), _carts(pile, max(2, items // 40)), _boxes(pile, max(2, items // 50)),
             _trunks(pile, max(2, items // 25)), _cartons(pile, 2)]  # fmt: skip
    return _job(pile), sum(cases)


def _racks(pile: Pile, many: int) -> int:
    """Full of frames by rack units; deep gear needs deep racks, and one model has its rails in the same case.

    The first frame of the first two racks is a processor and its spare.
    """
    for at in range(many):
        for part, units in enumerate(_cut(RACK_UNITS, pile.dice, 1, 5)):
            depth = pile.dice.choice((400, 650))
            if at < 2 and not part:
                _processor(pile, at, units, depth)
            else:
                _frame(pile, units, depth)
    pile.shells += [rack_case(f"R{at:03}", RACK_UNITS, lift_g=110_000) for at in range(many * 2)]
    return many


def _frame(pile: Pile, units: int, depth: int) -> None:
    railed = units == 4
    rails = f"rails-{depth}" if railed else ""
    mass = 4_500 * units
    pile.add(
        Gear(f"frame-{units}-{depth}", f"{units} U", "rack", mass_g=mass, units=units, depth_mm=depth, rails=rails)
    )
    if railed:
        pile.add(Gear(rails, "rails", "rack", mass_g=2_000))


def _processor(pile: Pile, at: int, units: int, depth: int) -> None:
    """One of a pair of which each stands in for the other, so never in one case."""
    mass, ident = 4_500 * units, f"processor-{at}"
    pile.add(Gear(ident, "processor", "rack", mass_g=mass, units=units, depth_mm=depth, spare="processor"))


def _cut(length: int, dice: random.Random, low: int, high: int) -> list[int]:
    parts = []
    while length:
        parts.append(min(length, dice.randint(low, high)))
        length -= parts[-1]
    return parts


def _carts(pile: Pile, many: int) -> int:
    """Panels with their cords: a set of three kinds stays together, the rest are panels one by one."""
    for at in range(many):
        tag = f"wall {at}" if at < 2 else ""
        if tag:
            pile.add(Gear(f"wall-{at}-panel", "panel", "panel", mass_g=8_000, slots=1, together=tag), 4)
            pile.add(Gear(f"wall-{at}-cord", "cord", "panel", mass_g=500, together=tag), 4)
        pile.add(Gear(f"panel-{at % 3}", "panel", "panel", mass_g=8_000, slots=1), CART_SLOTS - (4 if tag else 0))
    pile.shells += [Shell(f"C{at:03}", f"cart {at}", ("panel",), 40_000, 160_000, slots=CART_SLOTS)
                    for at in range(many * 2)]  # fmt: skip
    return many


def _boxes(pile: Pile, many: int) -> int:
    """Drives: two of each pair apart, a set together, the rest one by one."""
    pairs = max(1, many // 2)
    for at in range(pairs):
        _pair(pile, at, "-", 700)
    pile.add(Gear("set", "a set", "drive", mass_g=700, slots=1, together="set"), 4)
    pile.add(Gear("drive", "drive", "drive", mass_g=700, slots=1), many * BOX_SLOTS - 4 - 2 * pairs)
    slots = (("drive", BOX_SLOTS), ("note", 1))
    pile.shells += [box(f"B{at:03}", slots=0, compartments=slots) for at in range(many * 2)]
    return many


def _pair(pile: Pile, at: int, dash: str, mass_g: int) -> None:
    """Two drives kept apart: every second pair because they are the only copies of their content."""
    apart, copies = ("", (f"content {at}",)) if at % 2 else (f"final {at}", ())
    for copy in "ab":
        ident = f"copy{dash}{at}{copy}"
        pile.add(Gear(ident, "copy", "drive", mass_g=mass_g, slots=1, apart=apart, copies=copies))


def _trunks(pile: Pile, many: int) -> int:
    """Trunks of each department, filled and then robbed of less than one trunk's room: the fewest stays the same."""
    departments = max(1, many // DEPARTMENT)
    sizes = [max(2, (many - 1 + at) // departments) for at in range(departments)]
    for at, trunks in enumerate(sizes):
        _department(pile, "cable" if not at else f"part{at}", trunks)
    pile.add(Gear("pack", "pack", "cable", mass_g=2_000, size_mm=(300, 200, 200), battery=True), 36)
    pile.shells += [trunk(f"T{at:03}", families=("cable",)) for at in range(2)]
    return sum(sizes) + 1


def _department(pile: Pile, name: str, many: int) -> None:
    """Each trunk is two halves of one kind; the first has fragile things on top, which stay in."""
    cut: list[Gear] = []
    cut += [_whole(pile, 3, name)] * _copies(WHOLE[3], (1200, 600, 300), upright=True)
    screen = Gear(f"{name} screen", "screen", name, mass_g=9_000, size_mm=(600, 600, 300), fragile=True, upright=True)
    pile.add(screen, 2)
    for _ in range(many - 1):
        half = pile.dice.choice(((600, 600, 600), (1200, 300, 600)))
        fitting = [at for at, size in enumerate(WHOLE) if _copies(size, half, upright=at % 3 == 0)]
        for at in pile.dice.choices(fitting, k=2):
            cut += [_whole(pile, at, name)] * _copies(WHOLE[at], half, upright=at % 3 == 0)
    pile.dice.shuffle(cut)
    room = TRUNK[0] * TRUNK[1] * TRUNK[2] * 9 // 10
    while cut and _volume(cut[-1]) <= room:
        room -= _volume(cut.pop())
    for gear in cut:
        pile.add(gear)
    pile.shells += [trunk(f"{name[0].upper()}{name[-1]}{at:03}", families=(name,))
                    for at in range(many * 2 - many // 4)]  # fmt: skip


def _volume(gear: Gear) -> int:
    length, width, height = gear.size_mm or (0, 0, 0)
    return length * width * height


def _whole(pile: Pile, at: int, family: str) -> Gear:
    """One of a few models of this size, each with a mass of its own; the mass of a full trunk stays allowed."""
    model = pile.dice.randrange(3)
    volume = WHOLE[at][0] * WHOLE[at][1] * WHOLE[at][2]
    mass = max(100, volume * (200 + 20 * model) // 10**6)
    return Gear(f"{family} {at}-{model}", f"piece {at}", family, mass_g=mass, size_mm=WHOLE[at], upright=at % 3 == 0)


def _copies(size: Size, room: Size, *, upright: bool) -> int:
    """How many fill a room without a gap, all turned alike; 0 if they leave one."""
    for turned in permutations(size):
        whole = not any(free % side for free, side in zip(room, turned, strict=True))
        if whole and (not upright or turned[2] == size[2]):
            return room[0] * room[1] * room[2] // (size[0] * size[1] * size[2])
    return 0


def _cartons(pile: Pile, many: int) -> int:
    """Monitors that travel in their own cartons and nowhere else."""
    for at in range(many):
        size = (500, 300, 400)
        pile.add(Gear(f"monitor-{at}", "monitor", "screen", mass_g=9_000, size_mm=size, upright=True, boxed=True))
        pile.shells.append(Shell(f"M{at:03}", f"carton {at}", ("screen",), 2_000, 25_000, inside_mm=(520, 320, 420),
                                 made_for=(f"monitor-{at}",)))  # fmt: skip
    return many


def tour_load(items: int, seed: int = 0, *, models: int = 1) -> Job:
    """About so many things as a tour has them; `models` (1 to 4) is into how many kinds each model falls apart."""
    pile = Pile(random.Random(seed))
    _tour_racks(pile, items * 22 // 100, models)
    _tour_slots(pile, items)
    _tour_trunks(pile, items * 46 // 100, models)
    return _job(pile)


def fly_load(items: int, seed: int = 0, *, models: int = 1) -> Job:
    """A tour's gear on a freighter: its batteries are of lithium and fly only with what runs on them."""
    job = tour_load(items, seed, models=models)
    gear = tuple(_flying(one) for one in job.gear)
    return replace(job, gear=gear, split_batteries=False, air=Air(passenger=False))


def _flying(gear: Gear) -> Gear:
    if gear.battery:
        return replace(gear, chemistry=LITHIUM, battery_mwh=95_000)
    runs = gear.id.startswith(("loose 3", "loose 4"))
    return replace(gear, chemistry=LITHIUM, battery_mwh=95_000, runs_on=1) if runs else gear


def _tour_racks(pile: Pile, many: int, models: int) -> None:
    """Frames of a dozen makes, some with rails, and a processor with its spare."""
    makes = (1, 1, 1, 2, 2, 2, 3, 4, 5, 6)
    for at in range(2):
        _processor(pile, at, 2, 450)
    for _ in range(many):
        at = pile.dice.randrange(len(makes))
        units, depth = makes[at], 650 if at % 3 == 2 else 450
        rails = f"rails {at}" if at in (3, 7) else ""
        ident = f"rack {at}-{pile.dice.randrange(models)}"
        mass = 3_000 * units + at * 350
        pile.add(Gear(ident, ident, "rack", mass_g=mass, units=units, depth_mm=depth, rails=rails))
        if rails:
            pile.add(Gear(rails, rails, "rack", mass_g=1_800))
    cases = many * 3 // 10 + 3
    sizes = [(12, 800), (10, 800), (14, 600), (8, 600), (12, 800)]
    pile.shells += [rack_case(f"R{at:03}", units, depth_mm=depth, lift_g=120_000)
                    for at, (units, depth) in zip(range(cases), cycle(sizes), strict=False)]  # fmt: skip


def _tour_slots(pile: Pile, items: int) -> None:
    """Panels in carts and drives in boxes, with a pair of copies to every tenth drive."""
    panels, drives = items * 20 // 100, items * 12 // 100
    for at in range(3):
        pile.add(Gear(f"panel {at}", "panel", "panel", mass_g=7_500 + at * 900, slots=1), panels // 3)
    carts = panels // 5 + 2
    pile.shells += [Shell(f"C{at:03}", "cart", ("panel",), 45_000, 150_000, slots=8 if at % 2 else 6)
                    for at in range(carts)]  # fmt: skip
    pairs = max(1, drives // 10)
    for at in range(pairs):
        _pair(pile, at, " ", 720)
    pile.add(Gear("set", "a set", "drive", mass_g=720, slots=1, together="set"), 4)
    pile.add(Gear("drive", "drive", "drive", mass_g=720, slots=1), max(1, drives - 2 * pairs - 4))
    pile.shells += [box(f"B{at:03}") for at in range(drives // 3 + 2)]


# Length, width, height, kilograms, upright, fragile, battery, weight in the draw: ranges are common practice.
LOOSE = (
    ((400, 300, 150), 9, False, False, False, 5), ((300, 300, 120), 6, False, False, False, 5),
    ((500, 400, 200), 16, False, False, False, 3), ((420, 230, 260), 8, True, False, False, 3),
    ((380, 260, 240), 6, False, False, False, 3), ((240, 180, 180), 3, False, False, False, 4),
    ((650, 420, 120), 9, True, True, False, 1), ((560, 360, 110), 7, True, True, False, 1),
    ((350, 250, 180), 11, False, False, True, 2), ((200, 150, 120), 2, False, False, False, 4),
    ((800, 150, 150), 7, False, False, False, 1), ((300, 200, 100), 2, False, False, False, 3),
)  # fmt: skip


def _tour_trunks(pile: Pile, many: int, models: int) -> None:
    for _ in range(many):
        at = pile.dice.choices(range(len(LOOSE)), [one[5] for one in LOOSE])[0]
        size, kilos, upright, fragile, battery, _ = LOOSE[at]
        model = pile.dice.randrange(models * 2)
        side = (size[0] + model * 17, size[1] + model * 11, size[2] + model * 7)
        ident = f"loose {at}-{model}"
        pile.add(Gear(ident, ident, "loose", mass_g=kilos * 1000 + model * 310, size_mm=side, upright=upright,
                      fragile=fragile, battery=battery))  # fmt: skip
    sizes = [(1200, 600, 600), (800, 600, 600), (1200, 600, 450)]
    pile.shells += [trunk(f"T{at:03}", inside_mm=size)
                    for at, size in zip(range(many // 6 + 3), cycle(sizes), strict=False)]  # fmt: skip


def _job(pile: Pile) -> Job:
    """Homes are spread out: in random order, each into the case with the most room left. Some never leave theirs."""
    shells = tuple(pile.shells)
    bare = Job(tuple(pile.gear()), shells, split_batteries=True)
    filling = Filling(bare)
    waiting = [bundle for bundle, many in bundles(bare) for _ in range(many)]
    pile.dice.shuffle(waiting)
    for bundle in waiting:
        takes = [shell for shell in shells if filling.fits(bundle, shell)]
        if takes:
            filling.put(bundle, max(takes, key=lambda one: (min(_free(filling, one)), one.id)))
    lives: dict[str, list[tuple[str, int]]] = defaultdict(list)
    for case, content in filling.contents().items():
        for ident, many in content:
            lives[ident].append((case, many))
    gear = tuple(replace(one, homes=tuple(lives[one.id])) for one in bare.gear)
    mass = sum(one.mass_g * one.count for one in gear) + sum(one.tare_g for one in shells)
    vans = 2 if len(shells) < 150 else 4
    return replace(bare, gear=gear, vans=tuple(Van(f"V{at}", f"van {at}", mass // vans) for at in range(vans)))


def _free(filling: Filling, shell: Shell) -> list[float]:
    whole = limits(shell)
    free = filling.free[shell.id]
    return [free[name] / whole[name] for name in ("mass", "units", "slots", "room") if whole.get(name)]
