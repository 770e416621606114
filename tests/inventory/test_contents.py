"""What is in it, against what belongs in it."""

from __future__ import annotations

from datetime import timedelta

import pytest

from inventory import ledger
from inventory.answers.contents import contents
from inventory.answers.oddities import oddities
from inventory.answers.whereabouts import whereabouts
from inventory.ledger import Fact
from inventory.models import Grade, PlaceKind, Verb
from tests.factories import IDA, T0, make_case, make_case_type, make_drive, make_item, make_place

pytestmark = pytest.mark.django_db
MINUTE = timedelta(minutes=1)
LATER = T0 + 600 * MINUTE


def do(minutes, verb, item, where=None, **over):
    at = T0 + minutes * MINUTE
    fact = Fact(verb, item, place=getattr(where, "inside", where), happened_at=at, **over)
    return ledger.record([fact], by=IDA, at=at)[0]


@pytest.fixture
def box():
    case = make_case("HER-03", make_case_type("Drive box", slots="A B C", for_drives=True))
    do(0, Verb.PLACED, case, make_place("Mill Yard"))
    return case


@pytest.fixture
def drives(box):
    return [make_drive(f"71B0{n}K", home_case=box) for n in range(3)]


def pack(box, drives):
    for bay, drive in zip("ABC", drives, strict=False):
        do(1, Verb.PACKED, drive, box, bay=bay)


def states(found):
    return [(line.bay, line.item.serial, line.expected, line.here) for line in found.lines]


def test_all_that_belongs_is_there_in_bay_order(box, drives):
    pack(box, drives)
    found = contents(box, LATER)
    assert states(found) == [("A", "71B00K", True, True), ("B", "71B01K", True, True), ("C", "71B02K", True, True)]
    assert (found.answer, found.sentence) == ("as expected", "HER-03 holds all 3 that belong in it.")
    assert found.reasons == ()


def test_a_sisters_drive_in_the_box_and_one_elsewhere(box, drives):
    pack(box, drives[:2])
    shelf = make_place("Q", "shelf")
    do(2, Verb.QUARANTINED, drives[2], shelf)
    stray = make_drive("88C01D", home_case=make_case("CUR-03"))
    do(3, Verb.PACKED, stray, box, bay="C")
    found = contents(box, LATER)
    assert found.answer == "differs"
    assert found.sentence == "HER-03 holds 2 of the 3 that belong in it. 1 more does not belong in it."
    assert {reason.word for reason in found.reasons} == {"elsewhere", "extra"}
    [gone] = [line for line in found.lines if not line.here]
    assert gone.remark == "Pomandre Ingot 4T 71B02K is on Q."


def test_the_seal_that_holds_is_named_with_the_strength_of_each(box, drives):
    pack(box, drives)
    do(4, Verb.SEALED, box, seal="004470")
    found = contents(box, LATER)
    assert found.seal == "004470"
    assert {line.strength.value for line in found.lines} == {"sealed in"}


def test_a_container_says_where_it_stands_itself(box, drives):
    shelf = make_place("shelf A3", PlaceKind.SHELF)
    told = do(5, Verb.PLACED, box, shelf)
    found, itself = contents(box, LATER), whereabouts(box, LATER)
    assert "shelf A3" in found.stands and found.stands_since == told.happened_at
    assert (found.stands, found.stands_sure) == (itself.sentence, itself.strength)
    assert contents(shelf, LATER).stands == ""


def test_what_was_in_it_at_a_moment(box, drives):
    pack(box, drives)
    do(9, Verb.PULLED, drives[0], make_place("Mill Yard"))
    assert [line.here for line in contents(box, T0 + 5 * MINUTE).lines] == [True, True, True]
    assert sorted(line.here for line in contents(box, LATER).lines) == [False, True, True]


def test_a_store_comes_in_pages_and_counts_them_all():
    yard = make_place("Mill Yard")
    for n in range(5):
        do(n, Verb.PLACED, make_item(number=f"P-{n}"), yard)
    found = contents(yard, LATER, limit=2, start=2)
    assert [line.item.number for line in found.lines] == ["P-2", "P-3"]
    assert (found.total, found.answer, found.sentence) == (5, "holds", "Mill Yard holds 5 things.")
    assert contents(yard, T0 + 2 * MINUTE).total == 3


def test_an_empty_place_says_so():
    assert contents(make_place("Quay Unit"), LATER).sentence == "Quay Unit is empty."


def test_a_case_costs_as_many_queries_full_as_sparse(box, django_assert_max_num_queries):
    drives = [make_drive(f"72B{n:02}K", home_case=box) for n in range(12)]
    pack(box, drives[:1])
    with django_assert_max_num_queries(50) as one:
        contents(box, LATER)
    for drive in drives:
        do(5, Verb.PACKED, drive, box)
    with django_assert_max_num_queries(len(one)):
        assert contents(box, LATER).total == 12


def test_two_in_one_bay_is_a_finding_of_the_case(box, drives):
    do(1, Verb.PACKED, drives[0], box, bay="C")
    do(2, Verb.PACKED, drives[1], box, bay="C")
    [found] = [reason for reason in oddities(items=[box], at=LATER) if reason.word == "two in one bay"]
    assert found.sentence == (
        "Two for bay C of HER-03: Pomandre Ingot 4T 71B01K took it, Pomandre Ingot 4T 71B00K is in there without a bay."
    )
    assert found in contents(box, LATER).reasons


def test_an_opening_that_nobody_told_is_a_finding(box, drives):
    pack(box, drives)
    do(3, Verb.SEALED, box, seal="1")
    do(4, Verb.SEEN, drives[0], grade=Grade.SCAN)
    do(5, Verb.SEALED, box, seal="2")
    do(6, Verb.SEEN, drives[0], grade=Grade.SAID)
    words = [reason.word for reason in oddities(items=[box], at=LATER)]
    assert words == ["opened untold"]
    do(7, Verb.PACKED, drives[0], box, grade=Grade.SAID)
    assert "sealed, yet told" in [reason.word for reason in oddities(items=[box], at=LATER)]


def test_an_impossible_placing_is_a_finding(box):
    do(1, Verb.PACKED, box, box)
    [found] = oddities(items=[box], at=LATER)
    assert (found.word, found.sentence) == (
        "cannot be", "Ida Penrake recorded HER-03 inside itself. It moved nothing.",
    )  # fmt: skip
