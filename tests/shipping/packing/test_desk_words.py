"""An earlier plan carried over, why a thing is elsewhere, and what helps when the vehicles are too small."""

from __future__ import annotations

from dataclasses import replace

import pytest

from shipping.packing.carrying import carry
from shipping.packing.comparing import Ride, Shift, Side, compare
from shipping.packing.geometry import judge_plan
from shipping.packing.overload import Group, overload
from shipping.packing.planner.solver import at_once
from shipping.packing.wanted import Gear, Job, Van, moves
from shipping.packing.whys import differences
from tests.shipping.packing.loads import box, filled, rack_case, trunk

REEL = Gear("reel", "reel", "loose", 4, 10_000, size_mm=(600, 300, 200), homes=(("T1", 4),))


@pytest.mark.parametrize("seed", range(4))
def test_a_plan_carried_to_its_own_load_is_the_same(seed):
    job, _ = filled(100, seed)
    plan = at_once(job)
    again = carry(job, plan.contents, plan.vans)
    assert again is not None and again.contents == plan.contents and again.left == plan.left


@pytest.mark.parametrize("seed", range(4))
def test_with_one_case_less_the_rest_stays_and_nothing_is_lost(seed):
    job, _ = filled(100, seed)
    plan = at_once(job)
    gone = sorted(plan.contents)[0]
    gear = tuple(replace(one, homes=tuple(h for h in one.homes if h[0] != gone), stays=False) for one in job.gear)
    less = replace(job, gear=gear, shells=tuple(one for one in job.shells if one.id != gone))
    again = carry(less, plan.contents, plan.vans)
    assert again is not None and judge_plan(less, again) == () and gone not in again.contents
    kept = [case for case in plan.contents if case != gone and dict(plan.contents[case]).items()
            <= dict(again.contents.get(case, ())).items()]  # fmt: skip
    assert len(kept) >= len(plan.contents) - 1 - bool(again.left)


def test_a_case_that_no_vehicle_takes_is_left_and_said():
    job = Job((REEL,), (trunk("T1"),), (Van("V", "V", 50_000),))
    again = carry(job, {"T1": (("reel", 4),)}, {"T1": "V"})
    assert again is not None and not again.contents and [one.count for one in again.left] == [4]


@pytest.mark.parametrize(
    "gear,shells,contents,says",
    [
        (REEL, (trunk("T2"),), {"T2": (("reel", 4),)}, "T1 does not go"),
        (replace(REEL, size_mm=(1300, 300, 200)), (trunk("T1"), trunk("T2", inside_mm=(1400, 600, 600))),
         {"T2": (("reel", 4),)}, "T1 is too small inside"),
        (REEL, (trunk("T1", families=("rack",)), trunk("T2")), {"T2": (("reel", 4),)}, "T1 does not take loose"),
        (REEL, (trunk("T1"), trunk("T2")), {"T2": (("reel", 4),)}, "one case fewer"),
        (REEL, (trunk("T1", max_gross_g=45_000), trunk("T2")), {"T1": (("reel", 1),), "T2": (("reel", 3),)},
         "T1 may not get heavier"),
        (Gear("unit", "unit", "rack", 2, 1, units=8, homes=(("R1", 2),)), (rack_case("R1"), rack_case("R2")),
         {"R1": (("unit", 1),), "R2": (("unit", 1),)}, "R1 has no rack units left"),
        (Gear("drive", "drive", "drive", 8, 1, slots=1, homes=(("B1", 8),)), (box("B1"), box("B2")),
         {"B1": (("drive", 6),), "B2": (("drive", 2),)}, "B1 has no slot left"),
    ],
)  # fmt: skip
def test_why_a_thing_is_elsewhere_is_said(gear, shells, contents, says):
    if not any(one.id == gear.homes[0][0] for one in shells):
        gear = replace(gear, homes=())
        shells = (*shells, trunk("T1"))
        gear, job = REEL, Job((REEL,), shells[:1])
    else:
        job = Job((gear,), shells)
    found = differences(job, contents)
    assert found and all(says in why for _, why in found)


def three(payload):
    gear = tuple(Gear(f"g{n}", f"g{n}", "loose", 1, mass, homes=((f"T{n}", 1),)) for n, mass in
                 ((1, 60_000), (2, 20_000), (3, 10_000)))  # fmt: skip
    shells = tuple(trunk(f"T{n}", tare_g=0) for n in (1, 2, 3))
    job = Job(gear, shells, (Van("V", "V", payload),))
    return job, {f"T{n}": ((f"g{n}", 1),) for n in (1, 2, 3)}


def test_what_is_within_has_nothing_over():
    job, contents = three(90_000)
    assert (overload(job, contents).over_g, overload(job, contents).ways) == (0, ())


def test_what_is_planned_onto_no_vehicle_is_too_much_for_none():
    job, contents = three(90_000)
    assert overload(replace(job, vans=()), contents).over_g == 0


def test_what_is_over_says_by_how_much_and_each_way_out():
    job, contents = three(75_000)
    groups = (Group("Heron", ("T1",)), Group("Curlew", ("T2", "T3")), Group("pool", ("T3",)))
    found = overload(job, contents, groups, {"Big": 100_000, "Bigger": 200_000, "Small": 20_000, "Tiny": 5_000})
    assert found.over_g == 15_000
    said = [(way.name, way.cases, way.vehicle, way.left_g, way.hire_g) for way in found.ways]
    assert said == [
        ("Curlew", ("T2", "T3"), "", 15_000, 0),
        ("Heron", ("T1",), "", 45_000, 0),
        ("cases", ("T2",), "", 5_000, 0),
        ("instead", (), "Big", 10_000, 0),
        ("as well", (), "Small", 5_000, 0),
        ("hire", (), "", 0, 15_000),
    ]


def test_a_case_with_a_show_stopper_is_not_named_to_be_left():
    job, contents = three(75_000)
    spared = overload(job, contents, needed=frozenset({"T2"}))
    assert [way.cases for way in spared.ways if way.name == "cases"] == [("T1",)]
    all_needed = overload(job, contents, needed=frozenset({"T1", "T2"}))
    assert [way.name for way in all_needed.ways] == ["hire"]


def test_things_moved_in_a_plan_are_those_that_are_explained():
    job, _ = filled(100, 2)
    plan = at_once(job)
    assert sum(one.count for one, _ in differences(job, plan.contents)) == moves(job, plan.contents)


def test_two_plans_side_by_side_show_only_what_is_different():
    before = Side({1: "A", 2: "A", 3: "B"}, 50_000, 0, {"A": "V", "B": "V"})
    after = Side({1: "A", 2: "C", 4: "D"}, 40_000, 1, {"A": "W", "C": "V", "D": "V"})
    told = compare(before, after, {2: "reel", 3: "mast"})
    assert told.shifts == (Shift(1, "reel", "A", "C"),) and told.stay == 1  # the mast stays with the whole of B
    still = compare(before, replace(after, cases={2: "C", 4: "B"}), {1: "box", 2: "reel", 3: "mast"})
    assert Shift(1, "mast", "B", "") in still.shifts
    assert (told.closed, told.opened, told.rides) == (("B",), ("C", "D"), (Ride(("A",), "V", "W"),))
    assert (told.gross_g, told.lighter_g, told.left, told.come, told.is_same) == (-10_000, 10_000, 1, 1, False)
    assert compare(before, before, {}).is_same
