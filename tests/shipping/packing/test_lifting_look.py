"""The lifting equation and the filter at their edges, and what they refuse. Published values: test_carrying.py."""

from __future__ import annotations

from decimal import Decimal

import pytest

from shipping.packing.lifting import CAUTION, NoFigure
from shipping.packing.lifting_filter import Handling, Zone, filtered, often_pct, twist_pct
from shipping.packing.lifting_look import US, Lift, NotFor, composite, in_words, look, reach_of, worse

LEVEL = (Zone.KNUCKLE, Zone.KNUCKLE)


def test_more_than_fifteen_a_minute_has_no_figure_left():
    assert look(Lift(25, 75, 25, per_minute=15), 10).recommended > 0
    assert look(Lift(25, 75, 25, per_minute=15.1), 10).recommended == 0


@pytest.mark.parametrize("why", NotFor)
def test_a_lift_the_equation_was_not_made_for_is_refused(why):
    with pytest.raises(NoFigure, match=why.value):
        look(Lift(25, 75, 25, not_for=frozenset({why})), 10)


@pytest.mark.parametrize("why", sorted(set(NotFor) - {NotFor.TEAM, NotFor.LONG_DAY}))
def test_a_lift_the_filter_was_not_made_for_is_refused(why):
    with pytest.raises(NoFigure, match=why.value):
        filtered(Handling(*LEVEL, not_for=frozenset({why})))


def test_how_often_counts_from_where_the_lift_began():
    low, high = Lift(25, 100, 50, per_minute=9, work="long", began=30), Lift(25, 100, 50, per_minute=9, work="long")
    assert look(low, 5).index is None and look(high, 5).index is not None


def test_of_start_and_end_the_one_that_recommends_less_counts():
    start, end = look(Lift(30, 30, 45), 20), look(Lift(60, 75, 45), 20)
    assert worse(start, end) is end and end.recommended < start.recommended


def test_the_factors_multiply_to_the_recommendation():
    found = look(Lift(40, 20, 55, 30, 2, grip="poor"), 20)
    product = 23.0
    for _, factor in found.factors:
        product *= factor
    assert found.recommended == pytest.approx(product) and len(found.factors) == 6 and found.caution == CAUTION


def test_a_reach_that_nobody_measured_is_taken_from_the_depth_of_the_load():
    # NIOSH: 20 + W/2 cm from 25 cm up, 25 + W/2 below; the inches of the guide from memory.
    assert (reach_of(60, 30), reach_of(60, 20)) == (50, 55)
    assert (reach_of(24, 12, US), reach_of(24, 5, US)) == (20, 22)


def test_several_lifts_weigh_more_than_the_hardest_alone():
    alone = 30 / (20 * 0.94)
    assert composite([(30, 20, 1)], "short") == pytest.approx(alone)
    assert composite([(30, 20, 1), (10, 20, 1)], "short") > alone
    assert composite([(30, 0, 1)], "short") is None
    assert composite([(30, 20, 8), (30, 20, 8)], "short") is None


@pytest.mark.parametrize("index,word", [(None, "nothing"), (1, "not above"), (1.01, "some people"), (3.01, "nearly")])
def test_an_index_is_said_in_words(index, word):
    assert word in in_words(index)


def test_the_worst_zone_that_the_hands_pass_counts():
    assert filtered(Handling(Zone.FLOOR, Zone.SHOULDER)).one_kg == 7
    assert filtered(Handling(Zone.SHOULDER, Zone.LOWER_LEG, figures="men", far=True)).one_kg == 5
    assert filtered(Handling(Zone.LOWER_LEG, Zone.ELBOW, figures="men")).one_kg == 20


def test_reductions_come_off_one_after_the_other():
    found = filtered(Handling(*LEVEL, figures="men", twist=50, per_minute=Decimal(2)))
    assert found.one_kg == Decimal(25) * Decimal("0.9") * Decimal("0.7")
    assert [step.split(":")[0] for step in found.steps[1:]] == ["less 10 % for twisting", "less 30 % for how often"]


@pytest.mark.parametrize("rate,share", [("0.5", 0), ("0.51", 30), ("3", 50), ("8", 50), ("9", 80), ("13", 80)])
def test_between_the_named_rates_the_stricter_share_is_taken(rate, share):
    assert often_pct(Decimal(rate)) == share


@pytest.mark.parametrize("degrees,share", [(45, 0), (46, 10), (90, 10), (91, 20)])
def test_twisting_takes_its_share(degrees, share):
    assert twist_pct(degrees) == share


def test_a_team_gets_its_published_share_and_four_get_none():
    found = filtered(Handling(*LEVEL, figures="men"))
    assert round(found.team_kg(2), 2) == Decimal("33.33") and found.team_kg(3) == Decimal("37.5")
    with pytest.raises(NoFigure):
        found.team_kg(4)
