"""Each of the demo world's 22 faults is said where a person would meet it."""

from __future__ import annotations

import pytest

from shipping.demo.faults import FAULTS
from tests.shipping.told import TOLD, words


def test_every_fault_has_its_words():
    assert set(TOLD) == set(FAULTS)


@pytest.mark.parametrize("number", TOLD)
def test_it_is_said_where_a_person_meets_it(tonight, number):
    where, said = TOLD[number]
    assert said in words(tonight, where)
