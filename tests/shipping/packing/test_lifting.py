"""Lift bands, at their edges. The published team figures themselves are in tests/standards/test_carrying.py."""

from __future__ import annotations

from decimal import Decimal

import pytest

from shipping.packing.lifting import CAUTION, NoFigure, band, team_kg


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
