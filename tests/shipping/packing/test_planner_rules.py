"""The rules of a case in the plan: each is kept by the planner, and seen by the check when a plan breaks it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from shipping.packing.geometry import judge_plan
from shipping.packing.planner.engines import Stop
from shipping.packing.planner.solver import Planner
from shipping.packing.wanted import Air, Gear, Job, Plan, Shell, Van
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


def test_a_frame_whose_rails_are_not_in_the_load_at_all_stays_behind_too():
    plan = planned(Job((FRAME,), (rack_case("R1"),)))
    assert [(one.gear, one.count) for one in plan.left] == [("frame", 2)] and "0 of its rails" in plan.left[0].reason


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


def copies(**more: object) -> tuple[Gear, ...]:
    return tuple(Gear(f"copy {x}", f"copy {x}", "drive", 1, 700, slots=1, **more) for x in "ab")


ONE, TWO = (Van("a", "a", 10**6),), (Van("a", "a", 10**6), Van("b", "b", 10**6))
BOXES = (box("B1"), box("B2"))


def test_copies_ride_on_two_vehicles_and_with_one_of_them_one_stays():
    gear = copies(copies=("FMC",))
    plan = planned(Job(gear, BOXES, TWO))
    assert len(plan.contents) == 2 and set(plan.vans.values()) == {"a", "b"}
    plan = planned(Job(gear, BOXES, ONE))
    assert sum(one.count for one in plan.left) == 1 and "do not go on one vehicle" in plan.left[0].reason
    assert not planned(Job(gear, BOXES)).left


def test_a_drive_with_copies_of_two_others_is_kept_from_both_and_they_may_ride_together():
    first, second = copies()
    gear = (replace(first, copies=("x",)), replace(second, copies=("y",)),
            Gear("both", "both", "drive", 1, 700, slots=1, copies=("x", "y")))  # fmt: skip
    plan = planned(Job(gear, BOXES, TWO))
    assert plan.contents in ({"B1": (("both", 1),), "B2": (("copy a", 1), ("copy b", 1))},
                             {"B2": (("both", 1),), "B1": (("copy a", 1), ("copy b", 1))})  # fmt: skip


def test_a_spare_lies_in_another_case_than_its_part_and_rides_wherever_it_likes():
    gear = copies(spare="supply")
    assert len(planned(Job(gear, BOXES, ONE)).contents) == 2
    assert not planned(Job(gear, BOXES, ONE)).left


SIZE = (300, 200, 100)
CAMERA = Gear("camera", "camera", "loose", 1, 2_000, size_mm=SIZE, runs_on=1, chemistry="lithium", battery_mwh=98_000)
PACK = Gear("pack", "pack", "loose", 2, 700, size_mm=SIZE, battery=True, chemistry="lithium", battery_mwh=98_000)


def flown(*gear: Gear, **air: object) -> dict[str, int]:
    plan = Planner(Job(gear, (trunk("T1"), trunk("T2")), air=Air(**air)), seconds(5), Stop()).run()
    assert plan.breaches == () and plan.proven
    return {one.gear: one.count for one in plan.left}


def test_lithium_flies_only_beside_what_runs_on_it_and_with_two_to_spare():
    assert flown(PACK) == {"pack": 2}
    assert flown(CAMERA, PACK) == {}
    assert flown(CAMERA, replace(PACK, count=4)) == {"pack": 1}
    assert flown(CAMERA, replace(PACK, count=4), spares=3) == {}


def test_a_ups_holds_lithium_and_is_no_company_for_more_of_it():
    ups = Gear("ups", "UPS", "loose", 1, 9_000, size_mm=SIZE, chemistry="lithium", battery_mwh=90_000)
    assert flown(ups, PACK) == {"pack": 2}
    assert flown(replace(ups, battery_mwh=640_000)) == {"ups": 1}


def test_the_mass_of_batteries_in_one_case_counts_on_passenger_aircraft():
    heavy = replace(PACK, mass_g=2_000, count=3)
    assert flown(CAMERA, heavy) == {"pack": 1}
    assert flown(CAMERA, heavy, passenger=False) == {}
    assert flown(replace(CAMERA, count=2), heavy) == {}


def test_lead_large_batteries_and_baggage_stay_with_a_reason():
    over = replace(CAMERA, battery_mwh=100_048)
    assert flown(over) == {"camera": 1} and flown(over, most_mwh=160_000) == {}
    assert flown(Gear("ups", "UPS", "loose", 1, 9_000, size_mm=SIZE, chemistry="lead")) == {"ups": 1}
    assert flown(CAMERA, PACK, baggage=True) == {"pack": 2}
    job = Job((PACK, over), (trunk("T1"),), air=Air())
    assert all("dangerous-goods person" in one.reason for one in Planner(job, seconds(5), Stop()).run().left)


AIR = Job((CAMERA, PACK, replace(PACK, id="heavy", mass_g=5_001), replace(CAMERA, id="large", battery_mwh=100_048),
           Gear("ups", "UPS", "loose", 1, 9_000, size_mm=SIZE, runs_on=1, chemistry="lead")),
          (trunk("T1"),), air=Air())  # fmt: skip
BY_AIR = {
    "alone": ({"pack": 2}, AIR, "what is with them needs 0"),
    "too many": ({"camera": 1, "pack": 2, "heavy": 2}, AIR, "what is with them needs 1"),
    "too heavy": ({"camera": 1, "heavy": 1}, AIR, "5 kg may fly"),
    "too large": ({"large": 1}, AIR, "100.048 Wh"),
    "lead": ({"ups": 1}, AIR, "lead-acid"),
    "baggage": ({"camera": 1, "pack": 1}, replace(AIR, air=Air(baggage=True)), "is baggage"),
}


@pytest.mark.parametrize("how", BY_AIR)
def test_the_check_names_what_may_not_fly(how):
    content, job, says = BY_AIR[how]
    said = judge_plan(job, Plan({"T1": tuple(content.items())}))
    assert any(says in one for one in said), said
    road = judge_plan(replace(job, air=None), Plan({"T1": tuple(content.items())}))
    assert not any(says in one for one in road)


def test_the_check_sees_copies_on_one_vehicle_and_a_spare_with_its_part():
    apart = Plan({"B1": (("copy a", 1),), "B2": (("copy b", 1),)}, {"B1": "a", "B2": "a"})
    said = judge_plan(Job(copies(copies=("FMC",)), BOXES, ONE), apart)
    assert said == ("copy a and copy b (FMC) are to be in different vehicles.",)
    assert judge_plan(Job(copies(spare="s"), BOXES, ONE), apart) == ()
    one = Plan({"B1": (("copy a", 1), ("copy b", 1))}, {"B1": "a"})
    assert judge_plan(Job(copies(spare="s"), BOXES, ONE), one) == (
        "copy a and copy b (s) are to be in different cases.",
    )


def test_where_the_vehicle_is_the_limit_no_case_is_asked_for():
    gear = Gear("unit", "unit", "rack", 7, 5_000, units=2)
    small = (Van("small", "small", 60_000),)
    left = Planner(Job((gear,), (rack_case("R1"),), small), seconds(5), Stop()).run().left
    assert [one.count for one in left] == [1] and "no vehicle could carry one more: 5 kg at most are free" in left[
        0
    ].reason
    left = Planner(Job((replace(gear, count=20),), (rack_case("R1"),)), seconds(5), Stop()).run().left
    assert "One more such case would carry 6 of them" in left[0].reason
