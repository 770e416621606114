"""The map of a frame: every bay of it, what is in each, and what belongs in those that are empty."""

from datetime import timedelta

import pytest

from inventory.drawings.bays import BayState
from inventory.frame_bays import frame_maps
from inventory.ledger import Fact, record
from inventory.models import Compartment, Kind, Verb
from tests.factories import IDA, T0, make_case, make_case_type, make_drive, make_item, make_set, make_system

AT = T0 + timedelta(days=1)


def tail(drive):
    return drive.serial[-6:]


class Heron:
    def __init__(self):
        self.system = make_system("Heron")
        kind = make_case_type("Ebbmark 4", "A B C D", "pocket", kind=Kind.FRAME)
        self.frame = make_case("HER-F", kind, home_system=self.system)
        self.box = make_case("HER-03")
        self.set = make_set("HERON-1", host=self.system, bays="A B C D")
        self.drives = {bay: make_drive(f"71A0{n}XX{bay}", home_set=self.set) for n, bay in enumerate("ABCD")}
        self.do(*(Fact(Verb.JOINED, one, drive_set=self.set, bay=bay) for bay, one in self.drives.items()))
        self.do(*(Fact(Verb.PACKED, one, place=self.box.inside, bay=bay) for bay, one in self.drives.items()))

    def do(self, *facts):
        record(list(facts), by=IDA, at=T0)

    def fit(self, drive, bay):
        self.do(Fact(Verb.FITTED, drive, place=self.frame.inside, bay=bay))

    def cells(self):
        (found,) = frame_maps(self.system, AT)
        return {cell.label: cell for cell in found.cells}, found.expected


@pytest.fixture
def heron(db):
    return Heron()


def test_every_bay_of_an_empty_frame_is_drawn_and_names_what_belongs_in_it(heron):
    cells, expected = heron.cells()
    assert list(cells) == ["A", "B", "C", "D"]
    assert {cell.state for cell in cells.values()} == {BayState.EMPTY}
    assert cells["B"].words == f"{tail(heron.drives['B'])} is in HER-03"
    assert len(expected) == 1 and expected[0].startswith("HERON-1 is not in it: A ")


def test_one_bay_left_empty_names_the_drive_that_is_missing_and_where_it_is(heron):
    for bay in "ABC":
        heron.fit(heron.drives[bay], bay)
    cells, expected = heron.cells()
    assert [cells[bay].state for bay in "ABCD"] == ["fitted", "fitted", "fitted", "empty"]
    assert cells["D"].words == f"{tail(heron.drives['D'])} is in HER-03"
    assert expected == (f"HERON-1 is not whole in it. Missing: D {tail(heron.drives['D'])} (HER-03).",)


def test_a_drive_of_another_set_and_one_in_the_wrong_bay_are_wrong(heron):
    curlew = make_set("CURLEW-1", host=make_system("Curlew"), bays="A B C D")
    stranger = make_drive("72C035HX", home_set=curlew)
    heron.do(Fact(Verb.JOINED, stranger, drive_set=curlew, bay="D"))
    heron.fit(stranger, "A")
    heron.fit(heron.drives["B"], "C")
    cells, _expected = heron.cells()
    assert (cells["A"].state, cells["A"].words) == (BayState.WRONG, "this is CURLEW-1's D")
    assert (cells["C"].state, cells["C"].words) == (BayState.WRONG, "this is HERON-1's B")


def test_a_drive_that_left_the_set_is_no_longer_expected_and_a_second_set_is_offered_too(heron):
    heron.do(Fact(Verb.DROPPED, heron.drives["A"], drive_set=heron.set, bay="A"))
    other = make_set("HERON-2", host=heron.system, bays="A B C D")
    spare = make_drive("71B007NX", home_set=other)
    heron.do(Fact(Verb.JOINED, spare, drive_set=other, bay="B"))
    cells, expected = heron.cells()
    assert cells["A"].words == ""
    assert cells["B"].words == f"{tail(heron.drives['B'])} or {tail(spare)}"
    assert [words.split(" is ")[0] for words in expected] == ["HERON-1", "HERON-2"]


def test_a_frame_whose_type_lists_no_bays_shows_those_of_its_sets_and_what_stands_in_it(heron):
    Compartment.objects.all().delete()
    heron.fit(make_item(serial="LOOSE-1", name="cold spare"), "7")
    cells, _expected = heron.cells()
    assert list(cells) == ["A", "B", "C", "D", "7"]
    assert (cells["7"].state, cells["7"].words) == (BayState.FITTED, "of no set")


def test_the_map_costs_the_same_queries_for_many_drives_as_for_few(heron, django_assert_num_queries):
    with django_assert_num_queries(8):
        heron.cells()
    for n in range(6):
        more = make_set(f"HERON-{n + 2}", host=heron.system, bays="A B C D")
        heron.do(Fact(Verb.JOINED, make_drive(f"90X{n}YYYY", home_set=more), drive_set=more, bay="A"))
    with django_assert_num_queries(8):
        heron.cells()
