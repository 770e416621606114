"""The rules of a case in the plan: each is kept by the planner, and seen by the check when a plan breaks it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from shipping.packing.geometry import judge_plan
from shipping.packing.planner.engines import Stop
from shipping.packing.planner.solver import Planner
from shipping.packing.wanted import Gear, Job, Plan, Shell, Van
from tests.shipping.packing.loads import box, rack_case, seconds, trunk


def planned(job: Job, many: float = 5) -> Plan:
    plan = Planner(job, seconds(many), Stop()).run()
    assert plan.breaches == () and plan.proven
    return plan


FRAME = Gear("frame", "frame", "rack", 2, 20_000, units=5, depth_mm=600, rails="rails")
RAILS = Gear("rails", "rails", "rack", 2, 3_000, homes=(("R2", 2),))


def test_a_frame_takes_its_rails_into_the_same_case():
    plan = planned(Job((FRAME, RAILS), (rack_case("R1", 6), rack_case("R2", 6))))
    assert plan.contents == {"R1": (("frame", 1), ("rails", 1)), "R2": (("frame", 1), ("rails", 1))}


def test_a_frame_without_rails_stays_behind_and_that_is_said():
    plan = Planner(Job((FRAME, replace(RAILS, count=1, homes=())), (rack_case("R1"),)), seconds(5), Stop()).run()
    assert [(one.gear, one.count) for one in plan.left] == [("frame", 1)] and plan.breaches == ()
    assert "rails" in plan.left[0].reason


def test_a_case_that_is_lifted_is_packed_lighter_than_it_is_built_for():
    gear = Gear("ups", "UPS", "rack", 4, 20_000, units=2, depth_mm=400)
    shells = (rack_case("R1"), rack_case("R2"))
    assert len(planned(Job((gear,), shells)).contents) == 1
    assert len(planned(Job((gear,), tuple(replace(one, lift_g=70_000) for one in shells))).contents) == 2


def test_compartments_are_for_their_own_family():
    gear = (Gear("drive", "drive", "drive", 4, 700, slots=1), Gear("cord", "cord", "cord", 3, 200, slots=1))
    shell = box("B1", families=("drive", "cord"), slots=0, compartments=(("drive", 4), ("cord", 2)))
    plan = Planner(Job(gear, (shell,)), seconds(5), Stop()).run()
    assert dict(plan.contents["B1"]) == {"drive": 4, "cord": 2} and plan.breaches == ()


def test_original_packaging_takes_its_own_model_and_nothing_else():
    gear = (Gear("screen", "screen", "loose", 1, 9_000, size_mm=(500, 300, 400), boxed=True),
            Gear("cable", "cable", "loose", 2, 900, size_mm=(200, 200, 100)))  # fmt: skip
    carton = Shell("M1", "carton", ("loose",), 2_000, 30_000, inside_mm=(520, 320, 420), made_for=("screen",))
    plan = planned(Job(gear, (trunk("T1"), carton)))
    assert plan.contents == {"T1": (("cable", 2),), "M1": (("screen", 1),)}


def test_what_must_ride_together_does_so_across_many_cases():
    gear = tuple(Gear(f"g{at}", "g", "rack", 1, 10_000, units=12, convoy=f"c{at // 3}") for at in range(6))
    plan = planned(
        Job(gear, tuple(rack_case(f"R{at}") for at in range(6)), (Van("a", "a", 10**7), Van("b", "b", 10**7)))
    )
    assert len({plan.vans[case] for case, content in plan.contents.items() if content[0][0] in ("g0", "g1", "g2")}) == 1
    assert len(set(plan.vans.values())) == 2


BASE = Job(
    (FRAME, RAILS, Gear("drive", "drive", "drive", 2, 700, slots=1), Gear("cord", "cord", "cord", 1, 100, slots=1),
     Gear("screen", "screen", "loose", 1, 9_000, size_mm=(500, 300, 400), boxed=True),
     Gear("fixed", "fixed", "rack", 1, 1_000, units=1, homes=(("R1", 1),), stays=True)),
    (rack_case("R1", 6, lift_g=80_000), rack_case("R2", 6), trunk("T1"),
     box("B1", families=("drive", "cord"), slots=0, compartments=(("drive", 2), ("cord", 1))),
     Shell("M1", "carton", ("loose",), 2_000, 30_000, inside_mm=(520, 320, 420), made_for=("screen",))),
)  # fmt: skip
GOOD = {"R1": {"frame": 1, "rails": 1, "fixed": 1}, "R2": {"frame": 1, "rails": 1}, "B1": {"drive": 2, "cord": 1},
        "M1": {"screen": 1}}  # fmt: skip
BROKEN = {
    "no rails with it": ({"R1": {"frame": 1, "fixed": 1}, "R2": {"frame": 1, "rails": 2}}, {}, "of rails with 1"),
    "too heavy to lift": ({}, {"R1": {"lift_g": 40_000}}, "entered for lifting it"),
    "another family's slot": ({}, {"B1": {"compartments": (("drive", 3),)}}, "0 slots for cord"),
    "out of its packaging": ({"M1": {}, "T1": {"screen": 1}}, {}, "travels in its own packaging"),
    "a stranger in the packaging": ({}, {"M1": {"made_for": ("other",)}}, "does not belong in carton"),
    "away from where it stays": ({"R1": {"frame": 1, "rails": 1}, "R2": {"frame": 1, "rails": 1, "fixed": 1}}, {},
                                 "stays in its usual case"),
}  # fmt: skip


def held(contents: dict[str, dict[str, int]], job: Job) -> Plan:
    plan = Planner(job, seconds(5), Stop()).run()
    said = {case: tuple(sorted(inside.items())) for case, inside in contents.items() if inside}
    return Plan(said, {}, {case: laid for case, laid in plan.layouts.items() if case in said})


def test_the_plan_that_is_broken_below_is_a_good_one():
    assert judge_plan(BASE, held(GOOD, BASE)) == ()


@pytest.mark.parametrize("how", BROKEN)
def test_the_check_names_the_rule_that_is_broken(how):
    contents, shells, says = BROKEN[how]
    job = replace(BASE, shells=tuple(replace(one, **shells.get(one.id, {})) for one in BASE.shells))
    said = judge_plan(job, held(GOOD | contents, BASE))
    assert any(says in one for one in said), said
