"""Loading metres, bridge formula, top-over lashing against published figures (sources: tests/standards/road.json)."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from shipping.packing.floor import axles, restraint
from shipping.packing.floor.deck import Axle, Cargo, Deck, Freight, Spot
from shipping.packing.floor.patterns import patterns
from shipping.packing.floor.planner import at_once

FIGURES = json.loads((Path(__file__).parent / "road.json").read_text())


@pytest.mark.parametrize("row", FIGURES["loading_metres"], ids=str)
def test_loading_metres_are_floor_by_2_4_metres(row):
    size = (round(row["l_m"] * 1000), round(row["w_m"] * 1000), 500)
    spots = [Spot("A", (0, 0, 0), size, 1, 1, 1)] * row["qty"]
    assert float(axles.deck_metres(spots, row["stack"])) == pytest.approx(row["ldm"], abs=1e-9)


def test_what_stands_on_another_takes_no_loading_metres():
    cargo = Cargo("A", "A", (1200, 600, 400), 30_000, on_top_g=40_000, count=10)
    freight = Freight(Deck("T", "T", (6000, 2420, 2300)), (cargo,))
    assert float(axles.deck_metres(at_once(freight).spots)) == pytest.approx(1.5)


@pytest.mark.parametrize("row", FIGURES["bridge_formula"], ids=str)
def test_a_group_of_axles_by_the_bridge_formula(row):
    assert axles.bridge_limit_lb(row["L_ft"], row["N"]) == row["rounded_500"]


def test_one_axle_has_no_bridge_formula():
    with pytest.raises(ValueError, match="two or more"):
        axles.bridge_limit_lb(10, 1)


def test_axle_groups_are_every_run_of_neighbours_by_their_outer_length():
    five = [Axle(str(at), at) for at in (0, 3658, 4877, 14_326, 15_545)]  # 0, 12, 16, 47 and 51 ft
    groups = {(length, many) for length, many, _ in axles.bridge_groups(five)}
    assert len(axles.bridge_groups(five)) == 10
    assert {(51, 5), (4, 2), (12, 2), (16, 3), (47, 4), (39, 4)} <= groups


@pytest.mark.parametrize("row", FIGURES["top_over_lashing"], ids=str)
def test_the_force_that_top_over_lashing_would_have_to_give(row):
    force = restraint.lashing_force_n(row["m_kg"], row["mu"], row["c"], row["alpha_deg"], row["fs"])
    assert force == pytest.approx(max(0.0, row["F_N"]), abs=0.01)


def test_no_friction_and_no_angle_leave_nothing_to_press():
    for friction, angle in ((0, 90), (0.3, 0), (0.3, 91)):
        with pytest.raises(ValueError, match="needs friction"):
            restraint.lashing_force_n(1000, friction, 0.8, angle)


def test_the_caution_names_what_the_formula_leaves_out():
    assert all(word in restraint.CAUTION for word in ("tipping", "wheels", "anchorages", "competent person"))


@pytest.mark.parametrize("row", FIGURES["row_fit"], ids=str)
def test_as_many_cases_stand_across_as_the_width_takes(row):
    across = row["across"]
    shapes, whole = patterns(row["inside_mm"], 500, {(row["case_mm"], 500, False): 1, (500, row["case_mm"], False): 12})
    assert whole
    best = max(dict(one.slots).get((500, row["case_mm"], False), 0) for one in shapes)
    assert best == across and row["inside_mm"] - across * row["case_mm"] == row["slack_mm"]


def test_two_axles_carry_a_load_by_the_lever():
    front, rear = Axle("front", -900), Axle("rear", 3300)
    loads = axles.axle_loads([front, rear], 1000_000, 2 * 1000_000 * 1200)  # 1 t in the middle of 4,200 mm
    assert [one.load_g for one in loads] == [500_000, 500_000]
    behind = axles.axle_loads(
        [front, rear], 420_000, 2 * 420_000 * 4300
    )  # 1 m behind the rear axle: it lifts the front
    assert [one.load_g for one in behind] == [-100_000, 520_000]


def test_a_bogie_shares_evenly_and_stands_behind_the_widest_gap():
    three = [Axle("kingpin", 1600), Axle("first", 8300), Axle("second", 9600), Axle("third", 10_900)]
    assert [one.name for one in axles.halves(three)[1]] == ["first", "second", "third"]
    loads = axles.axle_loads(three, 24_000_000, 2 * 24_000_000 * 6600)
    assert [one.load_g for one in loads] == [9_000_000, 5_000_000, 5_000_000, 5_000_000]


def test_one_axle_is_refused_in_words():
    with pytest.raises(ValueError, match="Two axles at different places"):
        axles.halves([Axle("only", 0), Axle("twin", 0)])


def test_advice_on_restraint_gives_the_worked_examples_and_defers():
    said = restraint.lashing_words(1_000_000)
    assert "10.2 kN" in said and "2.0 kN" in said and "EN 12195-1:2010" in said
    assert "competent person" in restraint.CAUTION and "strap" not in said
    assert restraint.lashing_words(0) == ""


def test_axles_are_set_against_the_bridge_formula_at_their_worst():
    """L 36 ft, N 2: W = 500 (36 x 2 / 1 + 24 + 36) = 66,000 lb."""
    pair = (Axle("front axle", 0, None, 2_000_000), Axle("rear axle", 10_973, None, 3_000_000))
    deck = Deck("T", "T", (12_000, 2450, 2600), axles=pair, stops=("one", "two"))
    told = axles.stages(deck, [axles.Weight(1_000_000, 10_973, 2450, 1), axles.Weight(500_000, 10_973, 2450, 2)])
    (group,) = axles.bridge_table(deck, told)
    assert (group.length_ft, group.load_g, group.limit_g) == (36, 6_500_000, round(66_000 * 453.59237))
    assert axles.bridge_table(deck, []) == []
