"""What people read on a seal stands beside what the book expected at that moment, not what it expects now."""

from __future__ import annotations

from datetime import timedelta

import pytest

from inventory.ledger import Fact, record
from inventory.models import Verb
from shipping.seal_looks import looks_since_sealing, seal_looks
from tests.factories import ANA, T0, make_case

TOLD = [(Verb.SEEN, "11"), (Verb.SEALED, "12"), (Verb.SEEN, "13"), (Verb.SEEN, "12"), (Verb.SEALED, "14")]
LATER = T0 + timedelta(days=1)


@pytest.fixture
def case(db):
    return make_case("HER-02")


def tell(case, told, first: int = 0) -> None:
    """One an hour, from that hour on."""
    for hour, (verb, number) in enumerate(told, first):
        record([Fact(verb, case, seal=number)], by=ANA, at=T0 + timedelta(hours=hour))


def test_each_look_keeps_the_number_of_the_sealing_before_it(case):
    tell(case, TOLD)
    told = [(look.expected, look.found, look.differs) for look in seal_looks([case.pk], LATER)[case.pk]]
    assert told == [("", "11", True), ("12", "13", True), ("12", "12", False)]


def test_sealing_again_leaves_the_looks_before_it_behind(case):
    tell(case, TOLD)
    assert looks_since_sealing([case.pk], LATER) == {}
    tell(case, [(Verb.RECEIVED, "15")], first=len(TOLD))
    (look,) = looks_since_sealing([case.pk], LATER)[case.pk]
    assert (look.expected, look.found) == ("14", "15")


def test_a_case_that_nobody_sealed_has_no_looks_since(case):
    tell(case, TOLD[:1])
    assert looks_since_sealing([case.pk], LATER) == {}
