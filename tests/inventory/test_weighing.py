"""The scale names what is likely missing."""

from __future__ import annotations

from decimal import Decimal
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.answers.weighing import Weight, explain, weighing

KG = Decimal
PSU = Weight(1, "spare PSU", KG("2.9"))
CORD = Weight(2, "cord", KG("0.4"))
UNIT = Weight(3, "distribution unit", KG("8"))


def test_a_spare_supply_short_is_named():
    said = weighing("HER-05", KG("29.1"), KG(32), [PSU, CORD, UNIT])
    assert said.answer == "differs"
    assert said.likely == (PSU,)
    assert said.sentence == (
        "HER-05 weighs 29.1 kg against 32.0 computed (-9 %). 2.9 kg short; likely missing: spare PSU (2.9 kg)."
    )


def test_a_small_difference_agrees():
    assert weighing("HER-05", KG("31.5"), KG(32), [PSU]).answer == "agrees"


@pytest.mark.parametrize(
    "scale,answer", [("29.44", "agrees"), ("29.43", "differs"), ("34.56", "agrees"), ("34.57", "differs")]
)
def test_the_tolerance_is_eight_in_a_hundred_either_way(scale, answer):
    assert weighing("HER-05", KG(scale), KG(32), [PSU]).answer == answer


def test_an_unknown_mass_is_said_and_nothing_is_guessed():
    said = weighing("HER-05", KG("29.1"), None, [PSU], unknown=["Merrowby headset"])
    assert said.answer == "not known" and "no mass for Merrowby headset" in said.sentence and not said.likely


def test_two_things_are_named_when_one_does_not_explain_it():
    said = weighing("HER-05", KG("28.7"), KG(32), [PSU, CORD, UNIT])
    assert {weight.name for weight in said.likely} == {"spare PSU", "cord"}


def test_what_is_in_doubt_is_named_before_its_equal():
    twin = Weight(9, "other PSU", KG("2.9"), doubt="in quarantine")
    assert explain(KG("2.9"), [PSU, twin], slack=KG("0.1")) == (twin,)


def test_too_much_is_explained_from_what_is_missing_elsewhere():
    said = weighing("HER-05", KG(40), KG(32), [], elsewhere=[UNIT])
    assert said.likely == (UNIT,) and "8.0 kg over; likely in it: distribution unit" in said.sentence


def test_when_nothing_explains_it_that_is_said():
    said = weighing("HER-05", KG(20), KG(32), [CORD])
    assert said.likely == () and "no few things explain it" in said.sentence


masses = st.lists(st.integers(100, 9000), min_size=1, max_size=9)


@given(masses, st.integers(100, 20000))
def test_no_smaller_set_would_have_explained_it(grams, gap):
    pool = [Weight(n, str(n), KG(gram) / 1000) for n, gram in enumerate(grams)]
    slack = KG("0.1")
    found = explain(KG(gap) / 1000, pool, slack=slack)
    fits = [
        size
        for size in range(1, len(pool) + 1)
        for some in combinations(pool, size)
        if abs(sum(weight.kg for weight in some) - KG(gap) / 1000) <= slack
    ]
    assert len(found) == (min(fits) if fits else 0)
