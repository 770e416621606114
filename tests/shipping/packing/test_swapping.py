"""A trunk that does not go in exchanges one thing with another: nothing is lost, no more moved, all limits hold."""

from __future__ import annotations

from collections import Counter

import pytest

from shipping.packing.planner.cases import Family
from shipping.packing.planner.swapping import swapped
from shipping.packing.planner.trunks import laid_out
from shipping.packing.wanted import Gear, Job, moves
from tests.shipping.packing.loads import trunk


def thing(ident: str, size: tuple[int, int, int], home: str) -> Gear:
    return Gear(ident, ident, "loose", 1, 500, size_mm=size, homes=((home, 1),))


# By share each of the first three takes half of a trunk, but two of them are too wide to stand beside each other.
GEAR = (thing("wide", (400, 600, 500), "C"), thing("long", (900, 250, 500), "C"), thing("small", (250, 250, 250), "C"))
CASES = tuple(trunk(ident, inside_mm=(1200, 600, 600)) for ident in "ABC")
JOB = Job(GEAR, CASES)


def test_the_gear_of_these_tests_does_not_go_in_together():
    assert laid_out(JOB, {"A": (("long", 1), ("wide", 1)), "B": (("small", 1),)})[1]


def test_what_does_not_go_in_is_exchanged_and_nothing_lost():
    found = swapped(JOB, {"A": (("long", 1), ("wide", 1)), "B": (("small", 1),)})
    assert not laid_out(JOB, found)[1]
    assert Counter(ident for content in found.values() for ident, _ in content) == Counter(one.id for one in GEAR)
    family = Family(JOB, {})
    assert family.model.holds(family.start(found, {}))


def test_nothing_is_exchanged_where_more_would_be_moved():
    homes = {"wide": "A", "long": "A", "small": "B"}
    job = Job(tuple(thing(one.id, one.size_mm, homes[one.id]) for one in GEAR), CASES)
    start = {"A": (("long", 1), ("wide", 1)), "B": (("small", 1),)}
    assert moves(job, start) == 0 and swapped(job, start) == start


@pytest.mark.parametrize("content", [(("long", 1), ("small", 1)), (("wide", 1),)])
def test_what_goes_in_stays_as_it_is(content):
    assert swapped(JOB, {"A": content}) == {"A": content}
