"""What was told, newest first, with what was taken back."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from inventory import handling, ledger
from inventory.answers.history import history
from inventory.ledger import Fact
from inventory.models import PlaceKind, Verb
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


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("inspection_due", date(2026, 9, 25), "inspection due from nothing to 25 Sep 2026"),
        ("off_hire_at", datetime(2026, 9, 25, 17, tzinfo=UTC), "off-hire from nothing to 25 Sep 2026 18:00"),
        ("serial", "20260925", "serial from 90427 to 20260925"),
    ],
)
def test_an_amended_day_is_told_as_people_write_it(field, value, words):
    item = make_item(serial="90427")
    ledger.amend(item, "read again", by=IDA, at=T0, **{field: value})
    assert history(item).lines[0].sentence == f"Ida Penrake changed {words}: read again"


def test_what_left_for_good_and_what_is_on_the_road_say_no_place_twice():
    item = make_item()
    handling.write_off(item, "run over by a pallet truck", by=IDA, at=T0)
    do(1, Verb.DEPARTED, case := make_case("HER-04"), make_place("on the road: Teasel out", PlaceKind.ROAD))
    assert [line.sentence for line in history(item).lines][-1].startswith("Ida Penrake: written off · run over")
    assert history(case).lines[0].sentence == "Ida Penrake: departed on the road: Teasel out"


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
