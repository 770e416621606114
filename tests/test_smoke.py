"""A thing gets a code and an entry."""

from inventory import codes, ledger
from inventory.models import Entry, Verb
from tests.factories import IDA, T0, make_case, make_place


def test_a_registered_case_has_a_whole_code_and_room_inside(db):
    case = make_case()
    assert codes.is_whole(case.labels.get().code)
    assert case.inside.kind == "inside"


def test_recording_appends_one_entry_per_fact(db):
    case = make_case()
    ledger.record([ledger.Fact(Verb.PLACED, case, place=make_place())], by=IDA, at=T0)
    assert Entry.objects.get().verb == Verb.PLACED
