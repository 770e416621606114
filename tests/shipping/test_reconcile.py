"""What left, what came back, and what became of the rest: one outcome each."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory import ledger
from inventory.ledger import Fact
from inventory.models import Grade, Kind, Organisation, Person, Place, PlaceKind, Verb
from inventory.registering import register
from shipping.outcomes import Outcome
from shipping.reconcile import reconcile, still_out
from tests.factories import (
    ANA,
    IDA,
    T0,
    make_case,
    make_case_type,
    make_item,
    make_leg,
    make_owner,
    make_place,
    make_show,
    make_system,
    make_type,
)

HOUR = timedelta(hours=1)


class Tour:
    """One case and its things, out from Mill Yard to Fjellmark Hall on Teasel and back, step by step."""

    def __init__(self):
        self.yard = make_place("Mill Yard", is_ours=True)
        self.hall = make_place("Fjellmark Hall", PlaceKind.VENUE)
        self.road = make_place("road to Fjellmark", PlaceKind.ROAD)
        self.home_road = make_place("road home", PlaceKind.ROAD)
        self.teasel = register(
            make_case_type("Box Teasel", kind=Kind.VEHICLE), at=T0, owner=make_owner(), number="TEASEL"
        )
        self.show = make_show("FMC")
        self.at = T0
        self.case = make_case("HER-07")
        self.heron = make_system("Heron")
        self.do([Fact(Verb.PLACED, self.teasel, place=self.yard), Fact(Verb.PLACED, self.case, place=self.yard)])

    def do(self, facts, by=ANA):
        self.at += HOUR
        return ledger.record(facts, by=by, at=self.at)

    def pack(self, *items, case=None, grade=Grade.SCAN):
        inside = (case or self.case).inside
        self.do([Fact(Verb.PACKED, item, place=inside, grade=grade) for item in items])

    def leave(self, *cases):
        self.do([Fact(Verb.LOADED, case, place=self.teasel.inside) for case in cases or (self.case,)])
        self.do([Fact(Verb.DEPARTED, self.teasel, place=self.road, reference="FMC")])
        self.do([Fact(Verb.ARRIVED, self.teasel, place=self.hall, reference="FMC")])

    def come_home(self, *cases):
        self.do([Fact(Verb.DEPARTED, self.teasel, place=self.home_road, reference="FMC")])
        self.do([Fact(Verb.ARRIVED, self.teasel, place=self.yard, reference="FMC")])
        self.do([Fact(Verb.UNLOADED, case, place=self.yard) for case in cases or (self.case,)])

    def see(self, *items):
        self.do([Fact(Verb.SEEN, item) for item in items])

    def outcomes(self):
        told = reconcile(self.show, self.at)
        return {line.item.id: line.outcome for line in told.lines}

    def line(self, item):
        return next(line for line in reconcile(self.show, self.at).lines if line.item.id == item.pk)


@pytest.fixture
def tour(db):
    return Tour()


def test_nothing_has_left_before_the_first_departure(tour):
    told = reconcile(tour.show, tour.at)
    assert (told.answer, told.lines) == ("not gone yet", ())


def test_an_empty_vehicle_takes_nothing_with_it(tour):
    tour.do([Fact(Verb.DEPARTED, tour.teasel, place=tour.road, reference="FMC")])
    assert reconcile(tour.show, tour.at).answer == "not gone yet"


def test_a_van_that_nobody_wrote_home_still_leaves_the_store_its_leg_starts_at(tour):
    leg = make_leg([tour.case], tour.teasel, tour.show, from_place=tour.yard, to_place=tour.hall)
    tour.do([Fact(Verb.PLACED, tour.teasel, place=tour.hall)])
    tour.do([Fact(Verb.LOADED, tour.case, place=tour.teasel.inside)])
    tour.do([Fact(Verb.DEPARTED, tour.teasel, place=leg.road, reference="FMC")])
    assert tour.outcomes() == {tour.case.pk: Outcome.NOT_LOOKED}


def test_what_left_in_a_vehicle_is_the_case_and_everything_in_it_and_not_the_vehicle(tour):
    key = make_item(name="licence key")
    tour.pack(key)
    tour.leave()
    assert tour.outcomes() == {tour.case.pk: Outcome.NOT_LOOKED, key.pk: Outcome.NOT_LOOKED}


def test_a_scan_of_the_case_does_not_bring_its_contents_back(tour):
    key = make_item(name="licence key")
    tour.pack(key)
    tour.leave()
    tour.come_home()
    assert tour.outcomes() == {tour.case.pk: Outcome.BACK, key.pk: Outcome.NOT_LOOKED}


def test_an_own_scan_in_a_store_brings_a_thing_back(tour):
    key = make_item(name="licence key")
    tour.pack(key)
    tour.leave()
    tour.come_home()
    tour.see(key)
    assert tour.outcomes()[key.pk] == Outcome.BACK
    assert still_out("FMC", tour.at) == ()


def test_a_scan_at_the_venue_brings_nothing_back(tour):
    key = make_item(name="licence key")
    tour.pack(key)
    tour.leave()
    tour.see(key)
    assert tour.outcomes()[key.pk] == Outcome.NOT_LOOKED


def test_a_case_sealed_all_the_way_brings_its_contents_back_unopened(tour):
    key = make_item(name="licence key")
    tour.pack(key)
    tour.do([Fact(Verb.SEALED, tour.case, seal="004470")])
    tour.leave()
    tour.come_home()
    assert tour.outcomes()[key.pk] == Outcome.BACK_SEALED


def test_a_thing_left_under_a_promise_says_by_whom_and_until_when(tour):
    rail = make_item(name="right rail")
    jo = Person.objects.create(name="Jo Marlow", organisation=Organisation.objects.create(name="Glasswright Trust"))
    tour.pack(rail)
    tour.leave()
    tour.do([Fact(Verb.LEFT, rail, place=tour.hall, person=jo, due_at=T0 + 5 * HOUR, note="rack 3")])
    line = tour.line(rail)
    assert (line.outcome, line.person, line.due_at) == (Outcome.LEFT, "Jo Marlow", T0 + 5 * HOUR)
    assert "rack 3" in line.sentence


def test_what_is_in_a_case_that_was_left_in_place_was_left_with_it(tour):
    key, seen_home = make_item(name="licence key"), make_item(name="keyboard")
    tour.pack(key, seen_home)
    tour.leave()
    jo = Person.objects.create(name="Jo Marlow", organisation=Organisation.objects.create(name="Glasswright Trust"))
    tour.do([Fact(Verb.LEFT, tour.case, place=tour.hall, person=jo, due_at=T0 + 9 * HOUR)])
    line = tour.line(key)
    assert (line.outcome, line.person) == (Outcome.LEFT, "Jo Marlow")
    assert "was left with HER-07 at Fjellmark Hall" in line.sentence
    tour.do([Fact(Verb.PLACED, seen_home, place=tour.yard)])
    assert tour.outcomes()[seen_home.pk] == Outcome.BACK
    tour.do([Fact(Verb.PLACED, tour.case, place=tour.yard)])
    assert tour.outcomes()[key.pk] == Outcome.NOT_LOOKED


def test_a_thing_in_the_clients_hands_is_with_the_client_and_in_ours_is_elsewhere(tour):
    theirs, ours = make_item(name="drive"), make_item(name="panel")
    tour.pack(theirs, ours)
    tour.leave()
    jo = Person.objects.create(name="Jo Marlow", organisation=Organisation.objects.create(name="Glasswright Trust"))
    ana = Person.objects.create(name="Ana Rell", organisation=make_owner())
    hands = [Place.objects.create(name=who.name, kind=PlaceKind.PERSON, person=who) for who in (jo, ana)]
    tour.do([Fact(Verb.HANDED_OVER, theirs, place=hands[0], person=jo)])
    tour.do([Fact(Verb.HANDED_OVER, ours, place=hands[1], person=ana)])
    assert tour.outcomes()[theirs.pk] == Outcome.CLIENT
    assert tour.outcomes()[ours.pk] == Outcome.ELSEWHERE


def test_a_lot_counted_short_is_short_and_a_full_count_is_back(tour):
    cords = make_item(make_type("cord 2 m", "Hobbinet", is_lot=True), quantity=12)
    tour.pack(cords)
    tour.leave()
    tour.come_home()
    tour.do([Fact(Verb.COUNTED, cords, quantity=9)])
    assert tour.outcomes()[cords.pk] == Outcome.SHORT
    assert "9 of 12" in tour.line(cords).sentence
    tour.do([Fact(Verb.COUNTED, cords, quantity=12)])
    assert tour.outcomes()[cords.pk] == Outcome.BACK


def test_a_thing_that_came_back_with_a_fault_is_damaged_until_mended(tour):
    panel = make_item(name="panel")
    tour.pack(panel)
    tour.leave()
    tour.do([Fact(Verb.FAULTED, panel, note="dark corner")])
    tour.come_home()
    assert tour.outcomes()[panel.pk] == Outcome.NOT_LOOKED
    tour.see(panel)
    assert tour.outcomes()[panel.pk] == Outcome.DAMAGED
    tour.do([Fact(Verb.MENDED, panel)])
    assert tour.outcomes()[panel.pk] == Outcome.BACK


def test_a_thing_marked_missed_is_missed_until_it_is_found(tour):
    panel = make_item(name="panel")
    tour.pack(panel)
    tour.leave()
    tour.come_home()
    tour.do([Fact(Verb.MISSED, panel, reference="FMC")])
    line = tour.line(panel)
    assert line.outcome == Outcome.MISSED
    assert line.likely[0].name
    tour.do([Fact(Verb.FOUND, panel, place=tour.yard)])
    assert tour.outcomes()[panel.pk] == Outcome.BACK


def test_a_thing_on_the_road_home_is_elsewhere(tour):
    tour.leave()
    tour.do([Fact(Verb.DEPARTED, tour.teasel, place=tour.home_road, reference="FMC")])
    assert tour.outcomes()[tour.case.pk] == Outcome.ELSEWHERE


def test_a_thing_in_another_store_unseen_is_elsewhere_and_seen_there_is_back_with_a_transfer_owed(tour):
    quay = make_place("Quay Unit", is_ours=True)
    key = make_item(name="licence key")
    tour.pack(key)
    tour.leave()
    tour.do([Fact(Verb.ARRIVED, tour.teasel, place=quay, reference="FMC")])
    assert tour.outcomes()[key.pk] == Outcome.ELSEWHERE
    tour.see(key)
    line = tour.line(key)
    assert line.outcome == Outcome.BACK
    assert "a transfer is owed" in line.remarks[0]


def test_what_left_by_the_plan_only_was_never_confirmed_packed(tour):
    adapter = make_item(name="adapter", home_case=tour.case)
    tour.leave()
    line = tour.line(adapter)
    assert line.outcome == Outcome.NEVER
    assert line.likely[0].name == "Mill Yard"


def test_a_thing_packed_by_word_only_and_not_seen_since_was_never_confirmed_packed(tour):
    adapter = make_item(name="adapter")
    tour.pack(adapter, grade=Grade.SAID)
    tour.leave()
    assert tour.outcomes()[adapter.pk] == Outcome.NEVER


def test_a_consumed_thing_is_short_and_a_written_off_one_damaged(tour):
    gone = make_place("gone", PlaceKind.GONE)
    tape, fan = make_item(name="tape"), make_item(name="fan")
    tour.pack(tape, fan)
    tour.leave()
    tour.do([Fact(Verb.CONSUMED, tape, place=gone), Fact(Verb.WRITTEN_OFF, fan, place=gone)])
    assert tour.outcomes()[tape.pk] == Outcome.SHORT
    assert tour.outcomes()[fan.pk] == Outcome.DAMAGED


def test_a_swap_is_one_line_holding_two_serials(tour):
    wide = make_type("Ebbmark Wide", "Orrinvale", kind=Kind.PANEL)
    curlew = make_system("Curlew", colour="YELLOW", prefix="CUR")
    theirs_case = make_case("CUR-02", home_system=curlew)
    ours = make_item(wide, serial="W1001", home_system=tour.heron, home_case=tour.case)
    theirs = make_item(wide, serial="W1002", home_system=curlew, home_case=theirs_case)
    tour.pack(ours)
    tour.leave()
    tour.come_home()
    tour.do([Fact(Verb.PACKED, theirs, place=tour.case.inside)], by=IDA)
    line = tour.line(ours)
    assert (line.item.serial, line.other.serial) == ("W1001", "W1002")
    assert line.likely[0].name == "CUR-02"
    assert reconcile(tour.show, tour.at).strangers == ()


def test_two_twins_of_one_show_that_changed_cases_stand_in_one_line(tour):
    wide = make_type("Ebbmark Wide", "Orrinvale", kind=Kind.PANEL)
    second = make_case("CUR-02")
    a, b = make_item(wide, serial="W1001"), make_item(wide, serial="W1002")
    tour.do([Fact(Verb.PLACED, second, place=tour.yard)])
    tour.pack(a)
    tour.pack(b, case=second)
    tour.leave(tour.case, second)
    tour.come_home(tour.case, second)
    tour.do([Fact(Verb.PACKED, b, place=tour.case.inside), Fact(Verb.PACKED, a, place=second.inside)])
    lines = [line for line in reconcile(tour.show, tour.at).lines if not line.is_case]
    assert [(line.item.id, line.other.id) for line in lines] == [(a.pk, b.pk)]
    assert (lines[0].outcome, lines[0].other_outcome) == (Outcome.BACK, Outcome.BACK)


def test_a_thing_nobody_listed_is_named_with_the_case_it_was_found_in(tour):
    tour.leave()
    tour.come_home()
    found = make_item(name="keyboard without a tag")
    tour.do([Fact(Verb.FOUND, found, place=tour.case.inside)])
    told = reconcile(tour.show, tour.at)
    assert [stranger.item.id for stranger in told.strangers] == [found.pk]
    assert found.pk not in {line.item.id for line in told.lines}


def test_a_departure_from_the_venue_does_not_make_anything_leave(tour):
    local = make_item(name="bought locally")
    tour.leave()
    tour.do([Fact(Verb.PACKED, local, place=tour.case.inside)])
    tour.come_home()
    assert local.pk not in tour.outcomes()


def test_a_scan_into_what_holds_nothing_is_no_evidence_that_a_thing_is_back(tour):
    key, stand = make_item(name="licence key"), make_item(name="stand")
    place = Place.objects.create(item=stand, name="inside stand", kind=PlaceKind.INSIDE)
    tour.pack(key)
    tour.leave()
    tour.do([Fact(Verb.PLACED, stand, place=tour.yard)])
    tour.do([Fact(Verb.PLACED, key, place=place, grade=Grade.SCAN)])
    assert tour.outcomes() == {tour.case.pk: Outcome.NOT_LOOKED, key.pk: Outcome.NOT_LOOKED}
    assert tour.line(key).left_in.id == tour.case.pk


def test_a_departure_that_was_taken_back_never_happened(tour):
    tour.do([Fact(Verb.LOADED, tour.case, place=tour.teasel.inside)])
    act = tour.do([Fact(Verb.DEPARTED, tour.teasel, place=tour.road, reference="FMC")])[0].act
    assert tour.case.pk in tour.outcomes()
    ledger.correct(act, reason="wrong show", by=IDA, at=tour.at + HOUR)
    assert reconcile(tour.show, tour.at).lines == ()


def test_reconcile_costs_the_same_queries_for_many_things_as_for_few(tour):
    tour.pack(*(make_item(name=f"thing {n}", home_case=tour.case) for n in range(3)))
    tour.leave()
    with CaptureQueriesContext(connection) as few:
        reconcile(tour.show, tour.at)
    tour.come_home()
    tour.pack(*(make_item(make_type(f"kind {n}"), name=f"more {n}", home_case=tour.case) for n in range(20)))
    tour.leave()
    with CaptureQueriesContext(connection) as many:
        told = reconcile(tour.show, tour.at)
    assert (len(told.lines), len(many)) == (24, len(few))
