"""Acts on things: each is a fact in the ledger, and what it changes on the thing has its entry."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from inventory import handling
from inventory.handling import HandlingRefusal, Remarks
from inventory.models import Entry, Kind, PlaceKind, SystemPart, Verb
from inventory.models.places import Purpose
from tests.factories import (
    IDA,
    T0,
    make_case,
    make_case_type,
    make_item,
    make_place,
    make_system,
    make_type,
)


@pytest.fixture
def shelf(db):
    return make_place("Shelf 3", PlaceKind.SHELF)


@pytest.fixture
def quarantine(db):
    return make_place("Quarantine", PlaceKind.SHELF, purpose=Purpose.QUARANTINE)


def verbs() -> list[str]:
    return list(Entry.objects.order_by("id").values_list("verb", flat=True))


@pytest.mark.parametrize("kind,verb", [(Kind.CASE, "packed"), (Kind.FRAME, "fitted"), (Kind.VEHICLE, "loaded")])
def test_putting_into_a_container_is_said_as_people_say_it(db, kind, verb):
    case = make_case(item_type=make_case_type(f"A {kind}", kind=kind))
    thing = make_item(serial="S1")
    handling.put([thing], case.inside, bay="B", by=IDA, at=T0)
    thing.refresh_from_db()
    assert (thing.holding.place, thing.holding.bay, verbs()) == (case.inside, "B", [verb])


def test_a_place_takes_several_things_in_one_act(shelf):
    handling.put([make_item(serial="S1"), make_item(serial="S2")], shelf, by=IDA, at=T0)
    assert Entry.objects.values("act").distinct().count() == 1 and verbs() == ["placed", "placed"]


def test_a_stated_time_is_kept_as_stated(shelf):
    handling.put([make_item()], shelf, by=IDA, at=T0, remarks=Remarks(happened_at=T0 - timedelta(hours=2)))
    entry = Entry.objects.get()
    assert entry.stated and entry.happened_at == T0 - timedelta(hours=2)


def test_impossible_places_are_refused_and_nothing_is_written(db):
    case, van = make_case(), make_case("VAN-1", make_case_type("Teasel", kind=Kind.VEHICLE))
    for thing, place in ((case, case.inside), (van, case.inside)):
        with pytest.raises(HandlingRefusal):
            handling.put([thing], place, by=IDA, at=T0)
    with pytest.raises(HandlingRefusal, match="one thing"):
        handling.put([make_item(serial="1"), make_item(serial="2")], case.inside, bay="A", by=IDA, at=T0)
    assert verbs() == []


def test_checking_in_needs_a_place_of_a_store(shelf):
    thing = make_item()
    handling.check_in([thing], shelf, by=IDA, at=T0, remarks=Remarks(condition="scuffed"))
    assert (Entry.objects.get().verb, Entry.objects.get().condition) == ("received", "scuffed")
    with pytest.raises(HandlingRefusal, match="no place to check in"):
        handling.check_in([thing], make_place("Fjellmark Hall", PlaceKind.VENUE), by=IDA, at=T0)


def test_handing_over_puts_a_thing_in_a_persons_hands(crew):
    thing = make_item()
    handling.hand_over([thing], crew, by=IDA, at=T0, due_at=T0 + timedelta(days=2), remarks=Remarks(reference="FMC"))
    entry = Entry.objects.get()
    assert (entry.verb, entry.place.person, entry.person) == (Verb.HANDED_OVER, crew, crew)
    assert (entry.due_at, entry.reference) == (T0 + timedelta(days=2), "FMC")


def test_a_fault_may_send_a_thing_to_quarantine_in_the_same_act(quarantine, shelf):
    thing = make_item()
    handling.report_fault(thing, "hums at half load", by=IDA, at=T0, shelf=quarantine)
    assert verbs() == ["faulted", "quarantined"] and Entry.objects.values("act").distinct().count() == 1
    assert thing.holding.place == quarantine
    with pytest.raises(HandlingRefusal, match="no quarantine shelf"):
        handling.report_fault(thing, "hums", by=IDA, at=T0, shelf=shelf)
    with pytest.raises(HandlingRefusal, match="Write what is wrong"):
        handling.report_fault(thing, "  ", by=IDA, at=T0)


def test_mending_says_what_was_done(db):
    with pytest.raises(HandlingRefusal, match="how it was tested"):
        handling.mend(make_item(), "", by=IDA, at=T0)
    handling.mend(make_item(serial="2"), "new fan, four hours at full load", by=IDA, at=T0)
    assert verbs() == ["mended"]


def test_a_passed_inspection_moves_the_date_and_a_failed_one_opens_a_fault(db):
    thing = make_item(inspection_due=date(2026, 3, 1))
    handling.inspect(thing, passed=True, next_due=date(2027, 3, 1), by=IDA, at=T0)
    thing.refresh_from_db()
    assert thing.inspection_due == date(2027, 3, 1) and verbs() == ["inspected", "amended"]
    handling.inspect(thing, passed=False, by=IDA, at=T0 + timedelta(days=1), remarks=Remarks(note="earth loose"))
    assert sorted(verbs()) == ["amended", "faulted", "inspected", "inspected"]


def test_a_missed_thing_keeps_its_place_and_a_found_one_gets_a_new_one(shelf):
    thing = make_item()
    handling.put([thing], shelf, by=IDA, at=T0)
    handling.miss(thing, by=IDA, at=T0 + timedelta(hours=1))
    assert thing.holding.place == shelf
    other = make_place("Shelf 4", PlaceKind.SHELF)
    handling.find(thing, other, by=IDA, at=T0 + timedelta(hours=2))
    thing.holding.refresh_from_db()
    assert thing.holding.place == other and verbs() == ["placed", "missed", "found"]


@pytest.mark.parametrize("consumed,verb", [(False, "written off"), (True, "consumed")])
def test_what_is_written_off_is_gone_and_retired_with_its_reason(db, consumed, verb):
    thing = make_item()
    handling.write_off(thing, "cracked beyond repair", by=IDA, at=T0, consumed=consumed)
    thing.refresh_from_db()
    assert thing.retired_at == T0 and thing.holding.place.kind == PlaceKind.GONE
    assert verbs()[0] == verb and Entry.objects.get(verb="amended").note == "cracked beyond repair"


def test_only_lots_are_counted(db):
    lot = make_item(make_type("Tie 200", is_lot=True, serials_required=False), quantity=40)
    handling.count(lot, 36, by=IDA, at=T0)
    assert Entry.objects.get().quantity == 36
    with pytest.raises(HandlingRefusal, match="nothing to count"):
        handling.count(make_item(serial="1"), 1, by=IDA, at=T0)


def test_twins_swap_both_homes_with_the_reason(db):
    heron, curlew = make_system("Heron"), make_system("Curlew")
    one = make_item(serial="P1", home_system=heron, home_case=make_case("HER-02"))
    other = make_item(serial="P2", home_system=curlew, home_case=make_case("CUR-02"))
    SystemPart.objects.create(system=heron, item=one)
    handling.swap_homes(one, other, "exchanged at the strike", by=IDA, at=T0)
    one.refresh_from_db(), other.refresh_from_db()
    assert (one.home_system, one.home_case.number) == (curlew, "CUR-02")
    assert (other.home_system, other.home_case.number) == (heron, "HER-02")
    assert SystemPart.objects.get().item == other
    assert all("exchanged at the strike" in entry.note for entry in Entry.objects.all()) and len(verbs()) == 4
    with pytest.raises(HandlingRefusal, match="two of a kind"):
        handling.swap_homes(one, make_item(make_type("Perch")), "no", by=IDA, at=T0)


def test_a_replacement_takes_over_home_and_role(db):
    heron = make_system("Heron")
    old = make_item(serial="K1", home_system=heron, home_case=make_case("HER-02"))
    new = make_item(serial="K2")
    SystemPart.objects.create(system=heron, item=old)
    handling.replace(old, new, "lost at Fjellmark", by=IDA, at=T0)
    old.refresh_from_db(), new.refresh_from_db()
    assert (old.home_system, old.replaced_by, new.home_system) == (None, new, heron)
    assert new.home_case.number == "HER-02" and SystemPart.objects.get().item == new
    with pytest.raises(HandlingRefusal, match="replace itself"):
        handling.replace(old, old, "x", by=IDA, at=T0)
