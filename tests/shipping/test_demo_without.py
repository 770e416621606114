"""Without the entries of a fault, nothing says it: the words come from the ledger and from nowhere else."""

from __future__ import annotations

import pytest
import time_machine

from shipping.demo.loading import load
from tests.factories import T0
from tests.shipping.told import TOLD, words


@pytest.mark.slow
@pytest.mark.parametrize("number", TOLD)
def test_without_it_nothing_says_so(db, number):
    where, said = TOLD[number]
    with time_machine.travel(T0, tick=False):
        assert said not in words(load(T0, {number}), where)
