"""The lifting equation against lifts worked out from its published formulas; tests/standards/niosh.json says whence."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from shipping.packing.lifting import CAUTION, NoFigure
from shipping.packing.lifting_look import Lift, NotFor, look

GIVEN = json.loads((Path(__file__).parents[2] / "standards/niosh.json").read_text())


@pytest.mark.parametrize("one", GIVEN["lifts"], ids=lambda one: one["name"])
def test_a_lift_gets_the_recommended_mass(one):
    lift = Lift(one["H"], one["V"], one["D"], one["A"], one["F"], one["duration"], one["coupling"])
    found = look(lift, one["load"])
    assert found.recommended_kg == pytest.approx(one["rwl"], abs=0.001)
    assert found.index == pytest.approx(one["li"], abs=0.001) and found.caution == CAUTION


@pytest.mark.parametrize("one", GIVEN["zero"])
def test_beyond_its_reach_nothing_is_recommended(one):
    assert look(Lift(one["H"], one["V"], one["D"], one["A"]), 10).index is None


def test_more_than_fifteen_a_minute_has_no_figure_left():
    assert look(Lift(25, 75, 25, per_minute=15), 10).recommended_kg > 0
    assert look(Lift(25, 75, 25, per_minute=15.1), 10).recommended_kg == 0


@pytest.mark.parametrize("why", NotFor)
def test_a_lift_it_was_not_made_for_is_refused(why):
    with pytest.raises(NoFigure, match=why.value):
        look(Lift(25, 75, 25, not_for=frozenset({why})), 10)
