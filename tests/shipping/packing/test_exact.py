"""What an engine says about one trunk, against every way of putting a few boxes down one after another."""

from __future__ import annotations

import random
from collections.abc import Iterator
from itertools import product

import pytest

from shipping.packing.planner import boxes, exact
from shipping.packing.planner.fitting import turns
from shipping.packing.wanted import Gear, Job, Placed, Size
from tests.shipping.packing.loads import trunk

INSIDE = (4, 3, 3)
Things = tuple[tuple[Gear, int], ...]


def drawn(seed: int) -> Things:
    dice = random.Random(seed)
    return tuple(
        (Gear(f"k{at}", f"k{at}", "loose", 9, 100, size_mm=(dice.randint(1, 4), dice.randint(1, 3), dice.randint(1, 3)),
              upright=dice.random() < 0.3, fragile=dice.random() < 0.4), dice.randint(1, 2))
        for at in range(dice.randint(1, 3))
    )  # fmt: skip


def spots(gear: Gear) -> Iterator[tuple[Size, Size]]:
    for size in turns(gear):
        rooms = [range(room - side + 1) for room, side in zip(INSIDE, size, strict=True)]
        yield from ((at, size) for at in product(*rooms))


def meet(one: Placed, other: Placed, axes: range) -> bool:
    return all(
        one.at_mm[a] < other.at_mm[a] + other.size_mm[a] and other.at_mm[a] < one.at_mm[a] + one.size_mm[a]
        for a in axes
    )


def clash(one: Placed, other: Placed, fragile: set[str]) -> bool:
    low, high = sorted((one, other), key=lambda each: each.at_mm[2])
    return meet(one, other, range(3)) or (meet(one, other, range(2)) and low.gear in fragile and low is not high)


def goes_in(waiting: list[Gear], done: list[Placed], fragile: set[str]) -> bool:
    if not waiting:
        return True
    for at, size in spots(waiting[0]):
        here = Placed(waiting[0].id, at, size)
        if not any(clash(here, one, fragile) for one in done) and goes_in(waiting[1:], [*done, here], fragile):
            return True
    return False


def test_it_says_yes_and_no_as_every_way_tried_does():
    said = []
    for seed in range(160):
        things = drawn(seed)
        fragile = {gear.id for gear, _ in things if gear.fragile}
        answer = exact.placed(things, INSIDE)
        layout = answer.layout
        assert answer.impossible == (layout is None), "so little is always settled"
        assert answer.impossible != goes_in([gear for gear, many in things for _ in range(many)], [], fragile), things
        for at, one in enumerate(layout or ()):
            assert not any(clash(one, other, fragile) for other in (layout or ())[:at])
        said.append(answer.impossible)
    assert 30 < sum(said) < 130


def test_things_wider_than_the_trunk_never_go_in():
    assert exact.placed(((Gear("x", "x", "loose", 1, 1, size_mm=(5, 1, 1)), 1),), INSIDE).impossible


def test_of_many_things_it_says_nothing():
    many = ((Gear("x", "x", "loose", 99, 1, size_mm=(1, 1, 1)), exact.MOST + 1),)
    assert exact.placed(many, INSIDE) == exact.Answer(None)


def test_with_no_work_it_gives_up_and_claims_nothing():
    answer = exact.placed(((Gear("x", "x", "loose", 9, 1, size_mm=(2, 2, 1)), 4),), INSIDE, work=0.0)
    assert answer == exact.Answer(None)


@pytest.mark.parametrize("ways", [boxes.QUICK, boxes.WAYS])
def test_what_no_quick_way_lays_out_is_laid_out_by_the_engine(ways):
    sizes = [(851, 183, 171), (334, 222, 114), (517, 411, 207), (517, 411, 207), (534, 422, 214), (240, 180, 180),
             (308, 224, 208), (325, 235, 215)]  # fmt: skip
    gear = tuple(Gear(f"g{at}", f"g{at}", "loose", 1, 100, size_mm=size) for at, size in enumerate(sizes))
    shell = trunk("T", inside_mm=(1200, 600, 450))
    layout = boxes.lay_out(Job(gear, (shell,)), shell, tuple((one.id, 1) for one in gear), ways)
    assert (layout is not None) == (ways == boxes.WAYS)
    for at, one in enumerate(layout or ()):
        assert not any(clash(one, other, set()) for other in (layout or ())[:at])
        assert one.at_mm[2] == 0 or any(one.at_mm[2] == other.at_mm[2] + other.size_mm[2] for other in layout or ())
