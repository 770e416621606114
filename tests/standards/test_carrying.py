"""Published check values of lifting, racks, batteries and freight: each is used, or it is said why it is not.

`carrying.json` names the sources and how sure each is: A read in the source, B from secondary pages, C from memory.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from shipping.packing import freight, lifting_look, racks
from shipping.packing.lifting import TEAM_FACTOR, team_kg
from shipping.packing.lifting_filter import FIGURES, Handling, Zone, filtered, often_pct, twist_pct
from shipping.packing.lifting_look import METRIC, US, Lift, look
from shipping.packing.rules.batteries import air_band, watt_hours

PARTS = json.loads((Path(__file__).parent / "carrying.json").read_text())
SECTIONS = ("4_lifting", "5_rack", "6_batteries", "7_freight")
CHECKS: dict[str, Callable[[Any], None]] = {}
NOT_USED = {
    "4_lifting.niosh.source": "a name",
    "4_lifting.niosh.fm_table_columns": "names of columns",
    "4_lifting.niosh.example_tolerance": "words: it is the tolerance used for the printed values below",
    "4_lifting.hse_l23_filter_kg.columns": "names of columns",
}


def values(of: dict[str, Any], path: str) -> Any:
    """The value at a dotted path."""
    for name in path.split("."):
        of = of[name]
    return of


def paths() -> set[str]:
    """Every value or list of values of the four parts: one level under a part, two under the lifting guides."""
    found = set()
    for section in SECTIONS:
        for name, value in PARTS[section].items():
            deeper = section == "4_lifting" and isinstance(value, dict) and name in {"niosh", "hse_l23_filter_kg"}
            found |= {f"{section}.{name}.{more}" for more in value} if deeper else {f"{section}.{name}"}
    return found


def check(path: str) -> Callable[[Callable[[Any], None]], Callable[[Any], None]]:
    def keep(function: Callable[[Any], None]) -> Callable[[Any], None]:
        CHECKS[path] = function
        return function

    return keep


def lift_of(example: dict[str, Any], end: str, units: str) -> Lift:
    given = example[end]
    began = example["origin"]["V"]
    return Lift(
        given["H"], given["V"], given["D"], given["A"], given["F"], given["duration"], given["coupling"],
        units=US if units == "us" else METRIC, began=began,
    )  # fmt: skip


@check("4_lifting.niosh.examples")
def _examples(examples: list[dict[str, Any]]) -> None:
    """Full precision to four figures; printed values within 2.5 %, since they multiply rounded table values."""
    for one in examples:
        for end, short in (("origin", "o"), ("dest", "d")):
            if one[end] is None:
                continue
            found = look(lift_of(one, end, one["units"]), one["load"])
            assert found.recommended == pytest.approx(one[f"{end}_rwl_full_precision"], abs=6e-4), one["name"]
            assert found.index == pytest.approx(one[f"{end}_li_full_precision"], abs=6e-4), one["name"]
            assert [factor for _, factor in found.factors] == pytest.approx(
                [one[f"{end}_multipliers"][name] for name in ("HM", "VM", "DM", "AM", "FM", "CM")], abs=1e-6
            )
            if one["printed"]:
                assert found.recommended == pytest.approx(one["printed"][f"rwl_{short}"], rel=0.025), one["name"]
                assert found.index == pytest.approx(one["printed"][f"li_{short}"], abs=0.12), one["name"]


@check("4_lifting.niosh.fm_table")
def _frequency(table: dict[str, list[float]]) -> None:
    assert {float(row): tuple(figures) for row, figures in table.items()} == lifting_look.FREQUENCY


@check("4_lifting.niosh.fm_above_15")
def _above_15(factor: float) -> None:
    assert look(Lift(25, 75, 25, per_minute=15.01), 1).recommended == factor


@check("4_lifting.niosh.cm_table")
def _grip(table: dict[str, dict[str, float]]) -> None:
    assert {grip: (two["V<75cm"], two["V>=75cm"]) for grip, two in table.items()} == lifting_look.COUPLING


@check("4_lifting.niosh.zero_rwl_metric")
def _zero(lifts: list[dict[str, float]]) -> None:
    for one in lifts:
        found = look(Lift(one["H"], one["V"], one["D"], one["A"]), 10)
        assert found.recommended == 0 and found.index is None


@check("4_lifting.niosh.cli_example")
def _composite(example: dict[str, Any]) -> None:
    """Confidence C. The second decimal of the printed 1.9 is not given."""
    tasks = [(one["L"], one["FIRWL"], one["F"]) for one in example["tasks"]]
    assert lifting_look.composite(tasks, "short") == pytest.approx(example["CLI"], abs=0.05)
    single = [load / (mass * lifting_look._table_5(often, "short", high=False)) for load, mass, often in tasks]
    assert [round(one, 1) for one in single] == example["STLI"]


@check("4_lifting.niosh.special_frequency")
def _spread(example: dict[str, Any]) -> None:
    assert lifting_look.spread(example["lifts_per_min"], example["minutes_of_15"]) == pytest.approx(
        example["F"], abs=0.005
    )


def _filter(figures: str) -> Callable[[dict[str, list[int]]], None]:
    def check_zones(table: dict[str, list[int]]) -> None:
        names = ("floor_to_mid_lower_leg", "mid_lower_leg_to_knuckle", "knuckle_to_elbow", "elbow_to_shoulder",
                 "shoulder_and_above")  # fmt: skip
        assert set(table) == set(names)
        for zone, name in zip(Zone, names, strict=True):
            got = [filtered(Handling(zone, zone, far, figures)).one_kg for far in (False, True)]
            assert got == table[name]
        assert list(FIGURES[figures]) == [tuple(table[name]) for name in names]

    return check_zones


check("4_lifting.hse_l23_filter_kg.men")(_filter("men"))
check("4_lifting.hse_l23_filter_kg.women")(_filter("women"))


@check("4_lifting.hse_reductions_percent")
def _reductions(table: dict[str, int]) -> None:
    assert (twist_pct(46), twist_pct(91)) == (table["twist_over_45"], table["twist_over_90"])
    for rates, name in ((("1", "2"), "1_to_2_per_min"), (("5", "8"), "5_to_8_per_min"), (("13",), "over_12_per_min")):
        assert {often_pct(Decimal(rate)) for rate in rates} == {table[name]}


@check("4_lifting.team_factor")
def _factors(table: dict[str, float]) -> None:
    assert {people: float(TEAM_FACTOR[int(people)]) for people in table} == pytest.approx(table)
    assert max(TEAM_FACTOR) == 3


@check("4_lifting.team_examples")
def _teams(examples: list[dict[str, Any]]) -> None:
    for one in examples:
        people = [Decimal(kg) for kg in one["individuals_kg"]]
        assert round(float(team_kg(people)), 2) == one["team_kg"]


@check("5_rack.u_mm")
def _unit(mm: float) -> None:
    assert Decimal(str(mm)) == racks.UNIT_MM


@check("5_rack.space_mm")
def _space(table: dict[str, float]) -> None:
    assert {units: float(racks.space_mm(int(units))) for units in table} == table


@check("5_rack.panel_height_mm")
def _panel(table: dict[str, float]) -> None:
    """Confidence C: 1/32 in less than the space."""
    assert {units: float(racks.panel_mm(int(units))) for units in table} == table


@check("5_rack.hole_offsets_in_u_mm")
def _holes(offsets: list[float]) -> None:
    assert [float(hole) for hole in racks.holes_mm(1)] == offsets


@check("5_rack.hole_pitch_sequence_mm")
def _pitch(sequence: list[float]) -> None:
    holes = racks.holes_mm(3)
    gaps = [float(above - below) for below, above in zip(holes, holes[1:], strict=False)]
    assert gaps == (sequence * 3)[: len(gaps)]


NOT_USED |= {
    "5_rack.panel_width_mm": "no answer asks for the width of a panel",
    "5_rack.hole_centres_horizontal_mm": "no answer asks for the holes across",
    "5_rack.opening_min_mm": "no answer asks for the opening between the rails",
}


@check("6_batteries.wh")
def _watt_hours(examples: list[dict[str, Any]]) -> None:
    for one in examples:
        wh = watt_hours(Decimal(str(one["v"])), Decimal(str(one["ah"])))
        assert float(wh) == pytest.approx(one["wh"], abs=1e-9) and air_band(wh) == one["band"]


@check("7_freight.volumetric")
def _billed(examples: list[dict[str, Any]]) -> None:
    """Mass by volume to the third decimal; billed mass exactly, up to the next half kilogram."""
    for one in examples:
        sides = (one["l_cm"] * 10, one["w_cm"] * 10, one["h_cm"] * 10)
        units = [freight.Unit(n, str(n), sides, Decimal(str(one["kg_each"]))) for n in range(one["qty"])]
        for divisor in (6000, 5000):
            found = freight.bill(units, {"divisor": Decimal(divisor), "step_kg": Decimal("0.5")})
            assert float(found.by_volume_kg) == pytest.approx(one[f"vol_kg_{divisor}"], abs=5e-4)
            assert float(found.chargeable_kg) == one[f"chargeable_kg_{divisor}"]
        by_road = freight.bill(units, {"kg_per_m3": Decimal(333)})
        assert float(by_road.volume_m3) == pytest.approx(one["m3"]) and not by_road.lacks
        assert float(by_road.by_volume_kg) == pytest.approx(one["road_333_kg"])


@check("7_freight.ldm")
def _loading_metres(examples: list[dict[str, Any]]) -> None:
    for one in examples:
        each = freight.loading_metres(round(one["l_m"] * 1000), round(one["w_m"] * 1000), one["stack"])
        assert float(each * one["qty"]) == pytest.approx(one["ldm"])


NOT_USED |= {
    "7_freight.iso668_min_internal_mm": "the inside of a vehicle or container is taken as entered, never from a table",
}


@pytest.mark.parametrize("path", CHECKS)
def test_a_published_value_is_met(path):
    CHECKS[path](values(PARTS, path))


def test_every_published_value_is_used_or_it_is_said_why_not():
    assert set(CHECKS) | set(NOT_USED) == paths()
    assert not set(CHECKS) & set(NOT_USED)
    assert all(NOT_USED.values())


def test_the_road_figures_kept_beside_these_are_each_used():
    """Bridge formula, top-over lashing, rows across and loading metres are in road.json, read by test_road.py."""
    here = Path(__file__).parent
    given = set(json.loads((here / "road.json").read_text())) - {"source"}
    used = set(re.findall(r'FIGURES\["(\w+)"\]', (here / "test_road.py").read_text()))
    assert given == used >= {"bridge_formula", "top_over_lashing", "row_fit"}
