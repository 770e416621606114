"""What was told, newest first, with what was taken back."""

from __future__ import annotations

from datetime import timedelta

import pytest

from inventory import ledger
from inventory.answers.history import history
from inventory.ledger import Fact
from inventory.models import Verb
from tests.factories import ANA, IDA, T0, make_case, make_item, make_place, make_type

pytestmark = pytest.mark.django_db
MINUTE = timedelta(minutes=1)


def do(minutes, verb, item, where=None, by=IDA, **over):
    at = T0 + minutes * MINUTE
    fact = Fact(verb, item, place=getattr(where, "inside", where), happened_at=at, **over)
    return ledger.record([fact], by=by, at=at)[0]


def test_nothing_yet():
    assert history(make_case("HER-04")).sentence == "Nothing has been recorded of HER-04 yet."


def test_a_correction_stands_as_one_and_names_what_it_took_back():
    case = make_case("HER-04")
    wrong = do(1, Verb.PLACED, case, make_place("Quay Unit"), by=ANA)
    do(2, Verb.PLACED, case, make_place("Mill Yard"))
    undo = ledger.correct(wrong.act, reason="wrong case", by=IDA, at=T0 + 3 * MINUTE)
    told = history(case)
    assert [line.sentence for line in told.lines] == [
        "Ida Penrake took back “Ana Rell: placed at Quay Unit”: wrong case",
        "Ida Penrake: placed at Mill Yard",
        "Ana Rell: placed at Quay Unit",
    ]
    assert [line.voided_by for line in told.lines] == [None, None, undo.id]
    assert told.sentence.startswith("2 entries about HER-04, 1 of them taken back.")


def test_a_correction_without_the_right_says_so():
    case = make_case("HER-04")
    act = do(1, Verb.PLACED, case, make_place()).act
    ledger.correct(act, reason="no", by=ANA, at=T0 + 3 * MINUTE)
    told = history(case)
    assert "without the right to" in told.lines[0].sentence
    assert told.lines[1].voided_by is None


def test_an_amendment_says_from_what_to_what():
    case, item = make_case("HER-04"), make_item()
    ledger.amend(item, "moved home", by=IDA, at=T0, home_case=case)
    assert history(item).lines[0].sentence == "Ida Penrake changed home case from nothing to HER-04: moved home"


def test_moving_some_of_a_lot_keeps_the_sum_or_says_so():
    cords = make_type("Cord 2 m", kind="cord", is_lot=True)
    one, two = make_item(cords, quantity=20), make_item(cords, quantity=10)
    act = ledger.new_id(T0)
    counts = [Fact(Verb.COUNTED, one, quantity=15), Fact(Verb.COUNTED, two, quantity=15)]
    ledger.record(counts, by=IDA, at=T0, act=act)
    assert history(one).reasons == ()
    counts = [Fact(Verb.COUNTED, one, quantity=10), Fact(Verb.COUNTED, two, quantity=19)]
    ledger.record(counts, by=IDA, at=T0 + MINUTE)
    [reason] = history(one).reasons
    assert reason.sentence == "Ida Penrake moved some of a lot: 30 stood before, 29 after."
