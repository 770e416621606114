"""Lift bands and battery bands against published figures. The file of vectors names each source."""

from __future__ import annotations

import json
from decimal import Decimal
from pathlib import Path

import pytest

from shipping.packing.facts import Piece
from shipping.packing.lifting import CAUTION, NoFigure, band, team_kg
from shipping.packing.rules.batteries import ASK_DG, air_band, lithium_in_equipment_by_air, watt_hours
from tests.shipping.packing.examples import AIR, BAGS, case, load

VECTORS = json.loads((Path(__file__).parents[2] / "standards/lifting_and_batteries.json").read_text())


@pytest.mark.parametrize("vector", VECTORS["team_lift"]["vectors"])
def test_a_team_may_plan_with_the_published_share(vector):
    people = [Decimal(one) for one in vector["individuals_kg"]]
    assert round(float(team_kg(people)), 2) == vector["team_kg"]


def test_no_figure_is_made_up_for_four():
    with pytest.raises(NoFigure):
        team_kg([Decimal(16)] * 4)


@pytest.mark.parametrize(
    "mass,people",
    [("16", 1), ("16.001", 2), ("21.333", 2), ("21.334", 3), ("24", 3), ("24.001", None), ("68", None)],
)
def test_bands_end_where_the_one_setting_says(mass, people):
    found = band(Decimal(mass))
    assert found.people == people and found.caution == CAUTION


def test_an_unknown_mass_has_no_band():
    assert band(None).people is None and "weigh" in band(None).words


def test_nothing_is_ever_called_safe():
    said = " ".join(band(Decimal(mass)).words + band(Decimal(mass)).caution for mass in (5, 20, 23, 90)).lower()
    assert "safe" not in said and "compliant" not in said


@pytest.mark.parametrize("vector", VECTORS["battery_wh"]["vectors"])
def test_watt_hours_are_compared_unrounded(vector):
    wh = watt_hours(Decimal(vector["volts"]), Decimal(vector["amp_hours"]))
    assert wh == Decimal(vector["wh"])
    assert air_band(wh) == vector["band"]


@pytest.mark.parametrize(("wh", "words"), [("149.76", "airline's approval"), ("160.062", "only as cargo")])
def test_a_large_battery_in_baggage_is_told_by_its_band(wh, words):
    unit = Piece(41, "lamp", "other", battery_chemistry="lithium-ion", battery_wh=Decimal(wh), battery_count=1)
    (said,) = lithium_in_equipment_by_air.judge(load(case(unit), leg=BAGS))
    assert words in said.way_out and said.way_out.endswith(ASK_DG)
    (cargo,) = lithium_in_equipment_by_air.judge(load(case(unit), leg=AIR))
    assert cargo.way_out == ASK_DG
