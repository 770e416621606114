"""Floor plans: rows, stacks, stops, axles, what stays behind and why, and the record."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shipping.packing.floor import telling
from shipping.packing.floor.cutting import cut
from shipping.packing.floor.deck import LEFT, LENGTH, STACKED, Axle, Cargo, Freight
from shipping.packing.floor.planner import Task, at_once
from shipping.packing.floor.reasons import cannot_go
from shipping.packing.floor.rows import Rows
from shipping.packing.floor_geometry import judge_floor
from shipping.packing.planner.engines import highs
from tests.shipping.packing.freights import AXLES, at_random, cargo, deck, filled, planned


def level(plan, name):
    return next(one for one in plan.levels if one.name == name)


@pytest.mark.parametrize("stops", [1, 3])
def test_rows_filled_and_cut_are_put_together_as_short_as_they_were(stops):
    freight, length = filled(5, stops, seed=stops)
    plan = planned(freight)
    assert (plan.breaches, plan.left) == ((), ())
    assert plan.proven and plan.used_mm == level(plan, LENGTH).bound == plan.area_bound_mm == length


@pytest.mark.parametrize("seed", range(3))
def test_a_search_is_never_worse_than_the_plan_by_hand(seed):
    freight = at_random(20, 3, seed)
    first, plan = at_once(freight), planned(freight)
    assert first.breaches == plan.breaches == ()
    assert plan.used_mm <= first.used_mm and not plan.left
    assert plan.area_bound_mm <= level(plan, LENGTH).bound <= plan.used_mm


def test_proven_plans_of_the_same_freight_are_the_same_however_it_is_listed():
    freight = at_random(20, 3, seed=3)
    one, other = planned(freight, 20), planned(Freight(freight.deck, freight.cargo[::-1]), 20)
    assert one.proven
    assert replace(one, seconds=0) == replace(other, seconds=0)


def test_what_gets_off_first_stands_nearest_the_door():
    stops = deck(stops=("Fjellmark Hall", "Quay Unit"))
    freight = Freight(stops, (cargo("A", stop=1, count=3), cargo("B", stop=2, count=3)))
    plan = planned(freight)
    assert max(s.at_mm[0] for s in plan.spots if s.cargo == "B") <= min(s.end_mm for s in plan.spots if s.cargo == "A")
    assert plan.breaches == ()


def test_two_stops_may_share_a_row():
    narrow = deck(size_mm=(600, 2420, 2300), stops=("one", "two"), tiers=1)
    freight = Freight(narrow, (cargo("A", stop=1, count=2, size_mm=(600, 600, 500)),
                               cargo("B", stop=2, count=2, size_mm=(600, 600, 500))))  # fmt: skip
    assert planned(freight).left == ()


def test_first_off_stands_nearest_the_door_of_its_stop():
    wide = deck(tiers=1)
    freight = Freight(wide, (cargo("A", count=6), cargo("F", first_off=True, count=3)))
    plan = planned(freight)
    assert plan.first_off_kept and {s.row for s in plan.spots if s.cargo == "F"} == {max(s.row for s in plan.spots)}


def test_first_off_gives_way_rather_than_leaving_a_case_behind():
    full = deck(size_mm=(1200, 2420, 600), tiers=1)  # one row of four, and two across beside them
    freight = Freight(full, (cargo("A", size_mm=(1200, 1200, 500), first_off=True), cargo("B", size_mm=(600, 600, 500),
                      count=3), cargo("F", size_mm=(600, 600, 500), first_off=True)))  # fmt: skip
    plan = planned(freight)
    assert plan.left == () and plan.breaches == ()


def test_stacks_keep_what_may_stand_on_what():
    light, heavy = cargo("L", mass_g=20_000, count=4), cargo("H", mass_g=60_000, on_top_g=20_000, count=4)
    plan = planned(Freight(deck(), (light, heavy)))
    lifted = [spot for spot in plan.spots if spot.tier == 2]
    assert {spot.cargo for spot in lifted} == {"L"}
    assert planned(Freight(deck(lift_g=19_000), (light, heavy))).used_mm > plan.used_mm
    assert {s.tier for s in planned(Freight(deck(), (replace(light, mass_g=None), heavy))).spots} == {1}


def test_three_high_is_shorter_where_it_is_allowed():
    cases = (cargo("A", mass_g=10_000, on_top_g=30_000, count=12),)
    two, three = planned(Freight(deck(tiers=2), cases)), planned(Freight(deck(tiers=3), cases))
    assert three.breaches == () and three.used_mm < two.used_mm


def test_few_stacks_come_first_where_that_is_asked():
    cases = (cargo("A", mass_g=10_000, count=12),)
    plan = planned(Freight(deck(floor_first=True), cases))
    assert plan.proven and level(plan, STACKED).value == 0
    short = planned(Freight(deck(floor_first=True, size_mm=(1200, 2400, 2300)), (replace(cases[0], count=8),)))
    assert short.left == () and level(short, STACKED).value == 3  # five stand beside and behind each other


def test_a_case_that_is_set_down_again_keeps_the_length():
    plan = planned(Freight(deck(), (cargo("A", count=5),)))
    assert plan.used_mm == 600 or sum(spot.tier == 2 for spot in plan.spots) <= 2


@pytest.mark.parametrize(
    "change,says",
    [
        ({"size_mm": None}, "size is not entered"),
        ({"size_mm": (800, 600, 2400)}, "2,400 mm high; inside there are 2,300 mm"),
        ({"size_mm": (800, 600, 2250)}, "the door is 2,200 mm"),
        ({"size_mm": (2395, 2395, 500)}, "the door is 2,300 mm"),
        ({"size_mm": (6200, 600, 500)}, "covers 6,200 by 600 mm"),
        ({"mass_g": 2_300_000}, "weighs 2,300 kg; 2,280 kg is entered"),
    ],
)
def test_what_can_never_go_is_named_with_its_reason(change, says):
    plan = planned(Freight(deck(), (cargo("A", count=2, **change), cargo("B"))))
    assert [(one.gear, one.count) for one in plan.left] == [("A", 2)] and says in plan.left[0].reason
    assert plan.breaches == () and level(plan, LEFT).proven


def test_what_is_too_heavy_together_says_what_is_left_of_the_payload():
    plan = planned(Freight(deck(payload_g=100_000), (cargo("A", count=3),)))
    assert [(one.gear, one.count) for one in plan.left] == [("A", 1)]
    assert "It weighs 40 kg" in plan.left[0].reason and "20 kg is left" in plan.left[0].reason
    assert level(plan, LEFT).bound == 1


def test_what_finds_no_room_says_how_much_deck_would_carry_it():
    plan = planned(Freight(deck(size_mm=(1000, 1220, 2300), tiers=1), (cargo("A", count=3),)))
    assert [(one.gear, one.count) for one in plan.left] == [("A", 1)]
    assert "with 400 mm more deck it goes on" in plan.left[0].reason


def test_the_fewest_stay_behind_not_the_first_found():
    big, small = cargo("BIG", size_mm=(1200, 1200, 500), on_top_g=0), cargo("S", size_mm=(600, 600, 500), on_top_g=0)
    plan = planned(Freight(deck(size_mm=(1200, 1220, 2300)), (big, replace(small, count=4))))
    assert [(one.gear, one.count) for one in plan.left] == [("BIG", 1)] and level(plan, LEFT).proven


def test_axles_hold_after_every_stop():
    """Heavy cases for the far stop, light ones behind: with the light ones gone the front must still hold."""
    axles = (Axle("front axle", -900, 2_900_000, 2_450_000), Axle("rear axle", 3300, 5_000_000, 2_300_000))
    heavy = cargo("H", mass_g=200_000, stop=2, count=4, size_mm=(800, 600, 500), on_top_g=0)
    light = cargo("L", mass_g=20_000, stop=1, count=4, size_mm=(1200, 600, 500), on_top_g=0)
    plan = planned(Freight(deck(axles=axles, stops=("near", "far"), tiers=1), (heavy, light)))
    stages = telling.stages_of(Freight(deck(axles=axles, stops=("near", "far")), (heavy, light)), plan)
    assert [stage.when for stage in stages] == ["at departure", "after near"]
    assert not any(stage.over_g for stage in stages) and plan.breaches == () and plan.left == ()
    assert min(spot.at_mm[0] for spot in plan.spots) > 0
    assert any("at the headboard" in note for note in plan.notes)


def test_a_case_stays_behind_where_no_order_holds_the_axles():
    axles = (Axle("front axle", -900, 2_500_000, 2_450_000), Axle("rear axle", 3300, 2_500_000, 2_300_000))
    plan = planned(Freight(deck(axles=axles), (cargo("A", mass_g=100_000, count=5, on_top_g=0),)))
    assert plan.breaches == () and sum(one.count for one in plan.left) == 3
    assert "axle would carry" in plan.left[0].reason and "is entered" in plan.left[0].reason
    assert not plan.proven


def test_the_middle_of_the_load_comes_near_the_middle_of_the_deck():
    freight = at_random(24, 2, seed=5)
    for stage in telling.stages_of(freight, planned(freight))[:1]:
        assert abs(stage.offset_mm) <= 100


def test_what_was_not_entered_is_said():
    plan = planned(Freight(deck(payload_g=None), (cargo("A", mass_g=None),)))
    said = " ".join(plan.notes)
    assert "No mass is entered for A" in said and "No payload" in said and "Axle loads were not reckoned" in said


def test_the_record_says_how_good_and_never_that_it_may_be_carried():
    freight = at_random(12, 2, seed=1)
    plan = planned(freight, seed=7)
    told = telling.as_data(freight, plan)["record"]
    assert told["sentence"].startswith("Fewest found possible under the limits entered.")
    assert "not a load-safety approval" in told["sentence"]
    assert (told["check"], told["seed"], told["proven"], told["engine"]) == ("passed", 7, True, "HiGHS")
    assert [goal["gap"] for goal in told["goals"]] == [0, 0] and told["seconds"] > 0


sides = st.sampled_from([400, 500, 600, 800, 1000, 1200, 2500])
cases = st.lists(
    st.builds(
        Cargo,
        id=st.uuids().map(str),
        name=st.just("a case"),
        size_mm=st.none() | st.tuples(sides, sides, st.sampled_from([250, 400, 700, 1200, 2350])),
        mass_g=st.none() | st.integers(5_000, 400_000),
        stop=st.integers(1, 3),
        first_off=st.booleans(),
        on_top_g=st.none() | st.integers(0, 200_000),
        turns=st.booleans(),
        stacks=st.booleans(),
        count=st.integers(1, 3),
    ),
    min_size=1, max_size=8, unique_by=lambda one: one.id,
)  # fmt: skip


@settings(max_examples=25, deadline=None)
@given(
    cargo=cases,
    tiers=st.integers(1, 3),
    payload=st.none() | st.integers(100_000, 2_000_000),
    axles=st.sampled_from([(), AXLES]),
    length=st.integers(700, 6000),
    few=st.booleans(),
)
def test_any_freight_is_planned_within_every_limit_or_says_why_not(cargo, tiers, payload, axles, length, few):
    stops = ("one", "two", "three")
    freight = Freight(deck(tiers=tiers, payload_g=payload, axles=axles, stops=stops, floor_first=few,
                           size_mm=(length, 2400, 2300)), tuple(cargo))  # fmt: skip
    for plan in (at_once(freight), planned(freight, 1.0)):
        assert judge_floor(freight, plan) == plan.breaches == ()
        assert len(plan.spots) + sum(one.count for one in plan.left) == freight.cases
        assert all(one.reason.endswith(".") for one in plan.left)
        assert all(one.bound <= one.value for one in plan.levels)


def test_cases_of_two_sizes_stand_one_behind_another_beside_a_long_one():
    cases = (cargo("long", size_mm=(1200, 600, 500)), cargo("A", size_mm=(600, 600, 500)),
             cargo("B", size_mm=(600, 500, 500)))  # fmt: skip
    plan = planned(Freight(deck(size_mm=(6100, 1220, 2300), tiers=1), cases))
    assert (plan.proven, plan.used_mm, plan.breaches) == (True, 1200, ())


def test_two_cases_on_a_wide_deck_stand_side_by_side():
    cases = (cargo("long", size_mm=(1200, 600, 500), turns=False), cargo("A", size_mm=(900, 500, 500)))
    plan = planned(Freight(deck(size_mm=(6100, 2450, 2300), tiers=1), cases))
    assert (plan.proven, plan.used_mm, plan.left, plan.breaches) == (True, 1200, (), ())


def test_a_case_that_may_not_turn_stands_as_it_must_in_a_place_for_a_larger_one():
    cases = (cargo("wide", size_mm=(800, 600, 500), count=2), cargo("A", size_mm=(500, 600, 500), turns=False, count=3))
    plan = planned(Freight(deck(size_mm=(6100, 1220, 2300), tiers=1), cases))
    assert plan.proven and plan.breaches == ()


@pytest.mark.parametrize("seed", range(3))
def test_rows_added_to_lift_the_bound_leave_the_best_plan_in(seed):
    freight = at_random(12, 2, seed)
    task = Task(freight, keep_first_off=True)
    rows = Rows(freight.deck, task.kinds, task.stacks)
    rows.leave_nothing(True)
    rows.model.goal = rows.depths
    plain, narrower = highs(rows.model, 10), highs(cut(rows, rows.model, lambda: 10.0), 10)
    assert narrower.values is not None and rows.model.holds(narrower.values)
    assert rows.model.value(rows.depths, narrower.values) == rows.model.value(rows.depths, plain.values) == plain.bound


small = st.builds(
    lambda length, width, mass, stop, turns: (length * 100, width * 100, mass * 1000, stop, turns),
    st.integers(4, 12), st.integers(4, 8), st.integers(10, 60), st.integers(1, 2), st.booleans(),
)  # fmt: skip


@settings(max_examples=12, deadline=None)
@given(st.lists(small, min_size=3, max_size=6), st.sampled_from((100_000, 1_000_000)))
def test_what_is_named_cannot_all_go_and_can_with_one_less(rows, payload):
    freight = Freight(
        deck(size_mm=(1300, 1220, 1100), payload_g=payload, stops=("one", "two")),
        tuple(cargo(f"C{at}", size_mm=(length, width, 500), mass_g=mass, stop=stop, turns=turns)
              for at, (length, width, mass, stop, turns) in enumerate(rows)),
    )  # fmt: skip
    plan = planned(freight, 20)
    avoidable = [one for one in plan.left if not cannot_go(freight.deck, freight.by_id[one.gear])]
    assert bool(plan.conflict) == bool(avoidable)
    if not plan.conflict:
        return
    named = tuple(freight.by_id[ident] for ident, _ in plan.conflict)
    assert planned(Freight(freight.deck, named)).left
    for out in named:
        assert not planned(Freight(freight.deck, tuple(one for one in named if one != out))).left
    assert "cannot all go on Box Teasel" in "\n".join(telling.as_lines(freight, plan))
