"""Without the entries of a fault, nothing says it: the words come from the ledger and from nowhere else."""

from __future__ import annotations

import pytest
import time_machine

from shipping.daylist import day_list
from shipping.demo.loading import load
from tests.factories import T0
from tests.shipping.told import TOLD, words


@pytest.mark.slow
@pytest.mark.parametrize("number", TOLD)
def test_without_it_nothing_says_so(db, number):
    where, said = TOLD[number]
    with time_machine.travel(T0, tick=False):
        assert said not in words(load(T0, {number}), where)


@pytest.mark.slow
def test_without_two_faults_a_phone_hears_of_no_second_story_and_no_other_seal(db):
    world = load(T0, {14, 15})
    cases = {case["number"]: case for case in day_list([world.shows["FMC"]], T0)["cases"]}
    assert cases["HER-07"]["others"] == []
    assert (cases["HER-12"]["seal"], cases["HER-12"]["seal_read"]) == ("004418", None)
