"""Where a rack case balances, when it tips, and what order is lowest."""

from __future__ import annotations

from decimal import Decimal
from itertools import permutations
from math import atan, degrees

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shipping.packing.balancing import balance_of
from shipping.packing.facts import Case, Piece
from shipping.packing.racks import RackCase, Racked, balance, balance_pct, heaviest_low

KG = Decimal
EMPTY = RackCase(10, 800, 600, 600, 700, KG(20))


def test_an_empty_shell_balances_in_its_middle_and_tips_over_its_nearer_edges():
    found = balance(EMPTY, [])
    assert (found.height_mm, found.from_front_mm) == (300, 400)
    assert found.first == ("sideways", pytest.approx(45))
    assert dict(found.tips)["to the front"] == pytest.approx(degrees(atan(400 / 300)))


def test_a_heavy_unit_at_the_bottom_front_draws_the_centre_there():
    unit = Racked(1, 2, KG(20), 300)
    found = balance(EMPTY, [unit])
    # The rack opening of 444.5 mm stands in the middle of 600: its floor is at 77.75, the unit's middle one unit up.
    assert found.height_mm == pytest.approx((20 * 300 + 20 * (77.75 + 44.45)) / 40)
    assert found.from_front_mm == pytest.approx((20 * 400 + 20 * (50 + 150)) / 40)
    tips = dict(found.tips)
    assert tips["to the front"] < tips["to the back"]


def test_wheels_set_in_from_the_edges_tip_sooner():
    on_wheels = balance(RackCase(10, 800, 600, 600, 700, KG(20), wheels=True), [])
    assert on_wheels.first == ("sideways", pytest.approx(degrees(atan(250 / 300))))


@pytest.mark.parametrize(
    "case",
    [
        RackCase(10, None, None, 600, 700, KG(20)),
        RackCase(10, 800, 600, None, 700, KG(20)),
        RackCase(10, 800, 600, 600, 700, None),
        RackCase(10, 800, 600, 600, 700, KG(20), loose_kg=None),
    ],
)
def test_without_a_mass_or_a_size_nothing_is_said_of_tipping(case):
    assert balance(case, [Racked(1, 2, KG(5))]) is None
    assert balance(EMPTY, [Racked(None, 2, KG(5))]) is None and balance(EMPTY, [Racked(1, 2, None)]) is None


units = st.lists(st.tuples(st.integers(1, 4), st.integers(1, 400)), min_size=1, max_size=6)


def stacked(order) -> list[Racked]:
    found, bottom = [], 1
    for height, tenths in order:
        found.append(Racked(bottom, height, KG(tenths) / 10))
        bottom += height
    return found


@settings(deadline=None)
@given(units)
def test_no_order_balances_lower_than_the_proposed_one(given_units):
    proposed = heaviest_low(stacked(given_units))
    assert sorted((one.units, one.mass_kg) for one in proposed) == sorted(
        (one.units, one.mass_kg) for one in stacked(given_units)
    )
    assert proposed[0].bottom == 1
    assert all(above.bottom == below.bottom + below.units for below, above in zip(proposed, proposed[1:], strict=False))
    lowest = min(balance_pct(30, stacked(order)) for order in permutations(given_units))
    assert balance_pct(30, proposed) <= lowest + KG("1e-20")


def rack(*pieces: Piece, **over) -> Case:
    shell = {"rack_units": 10, "usable_depth_mm": 700, "length_mm": 800, "width_mm": 600, "height_mm": 600}
    return Case(1, "HER-01", pieces=pieces, tare_kg=KG(20), **{**shell, **over})


LIGHT = Piece(1, "network switch", mass_kg=KG(3), rack_units=1, rack_depth_mm=300, bay="U1")
FRAME = Piece(2, "Ebbmark 6", "frame", mass_kg=KG(31), rack_units=5, rack_depth_mm=580, bay="U2")


def test_heaviest_low_is_proposed_with_what_it_gains():
    found = balance_of(rack(LIGHT, FRAME))
    assert [(one.name, one.bottom) for one in found.proposal.units] == [("Ebbmark 6", 1), ("network switch", 6)]
    before, after = found.whole.first[1], found.proposal.balance.first[1]
    assert found.proposal.gain == pytest.approx(after - before) and found.proposal.gain >= 0.5
    assert f"tip {found.proposal.gain:.1f}° later" in found.proposal.sentence
    assert "Ebbmark 6 in U1 to U5, network switch in U6" in found.proposal.sentence


def test_nothing_is_proposed_where_nothing_is_gained():
    assert balance_of(rack(Piece(2, "Ebbmark 6", mass_kg=KG(31), rack_units=5, bay="U1"))).proposal is None


def test_where_nobody_said_what_sits_where_an_order_is_proposed_without_a_gain():
    found = balance_of(rack(Piece(1, "switch", mass_kg=KG(3), rack_units=1), FRAME))
    assert found.whole is None and found.proposal.gain is None
    assert "no rack unit said for switch" in found.sentence


def test_what_is_fitted_in_a_unit_weighs_with_it_and_what_lies_loose_with_the_shell():
    fitted = Piece(3, "supply", mass_kg=KG(10), within=2)
    loose = Piece(4, "cord", mass_kg=KG(8))
    plain, full = balance_of(rack(FRAME)), balance_of(rack(FRAME, fitted, loose))
    assert full.contents_pct == plain.contents_pct
    assert full.units[0].mass_kg == 41
    assert full.whole.height_mm != pytest.approx(plain.whole.height_mm)


def test_a_case_that_is_no_rack_has_no_balance():
    assert balance_of(Case(1, "HER-03", pieces=(FRAME,))) is None


def test_the_words_never_approve():
    found = balance_of(rack(LIGHT, FRAME))
    said = f"{found.sentence} {found.caution} {found.proposal.sentence}".lower()
    assert "not an approval" in said and "safe" not in said and "compliant" not in said
