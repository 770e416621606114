"""READY or NOT READY: each reason alone, and the shortest path."""

from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory import ledger
from inventory.answers.readiness import readiness, readiness_of
from inventory.answers.twins import twins
from inventory.answers.values import Reason, Verdict
from inventory.ledger import Fact, LedgerRefusal
from inventory.models import (
    Entry,
    Grade,
    Kind,
    Necessity,
    Organisation,
    Person,
    PlaceKind,
    System,
    SystemPart,
    Verb,
)
from inventory.models.places import Purpose
from inventory.signing import digest, last_signature, sign
from tests.factories import IDA, T0, make_case, make_item, make_owner, make_place, make_set, make_system, make_type

ON = date(2026, 3, 20)
HOUR = timedelta(hours=1)


def all_blank(sets, at):
    return {one.pk: Verdict("BLANK", f"{one} is blank.") for one in sets}


def none_blank(sets, at):
    reason = Reason("bare", "CCA is not released.", "Ask Jo Marlow to release it.")
    return {one.pk: Verdict("NOT BLANK", "it holds CCA, not released", (reason,)) for one in sets}


class Curlew:
    """A system with a panel in CUR-02 and a rail in CUR-10 at Mill Yard, seen there, and a set."""

    def __init__(self):
        self.yard = make_place("Mill Yard", is_ours=True)
        self.system = make_system("Curlew", colour="YELLOW", prefix="CUR")
        self.case = make_case("CUR-02", home_system=self.system)
        self.set = make_set("CURLEW-1", host=self.system)
        self.wide = make_type("Ebbmark Wide", "Orrinvale", kind=Kind.PANEL)
        self.panel = self.part(self.wide, serial="W1002", name="panel Wide")
        self.rail = self.part(make_type("rail", "Orrinvale", kind=Kind.RAILS), name="right rail")
        self.at = T0
        self.rails = make_case("CUR-10", home_system=self.system)
        self.do([Fact(Verb.PLACED, case, place=self.yard) for case in (self.case, self.rails)])
        self.pack(self.panel)
        self.pack(self.rail, case=self.rails)

    def part(self, item_type, necessity=Necessity.REQUIRED, **fields):
        item = make_item(item_type, home_system=self.system, home_case=self.case, **fields)
        SystemPart.objects.create(system=self.system, item=item, necessity=necessity)
        return item

    def do(self, facts):
        self.at += HOUR
        return ledger.record(facts, by=IDA, at=self.at)

    def pack(self, *items, case=None, grade=Grade.SCAN):
        self.do([Fact(Verb.PACKED, item, place=(case or self.case).inside, grade=grade) for item in items])

    def ready(self, blank_sets=all_blank):
        return readiness(self.system, ON, self.at, blank_sets=blank_sets)

    def words(self, **more):
        return [reason.word for reason in self.ready(**more).reasons]


@pytest.fixture
def curlew(db):
    return Curlew()


def test_complete_seen_and_blank_is_ready(curlew):
    told = curlew.ready()
    assert (told.answer, told.reasons, told.path) == ("READY", (), ())


def test_a_system_without_parts_is_not_ready(db):
    told = readiness(make_system("Wren"), ON, T0, blank_sets=all_blank)
    assert (told.answer, told.reasons[0].word) == ("NOT READY", "no parts listed")


def test_a_rail_left_under_a_promise_names_the_place_the_person_and_the_day(curlew):
    jo = Person.objects.create(name="Jo Marlow", organisation=Organisation.objects.create(name="Glasswright Trust"))
    rack = make_place("Rooms rack 3", PlaceKind.ROOM, parent=make_place("The Glasswright Rooms", PlaceKind.VENUE))
    curlew.do([Fact(Verb.LEFT, curlew.rail, place=rack, person=jo, due_at=T0, note="rack locked")])
    told = curlew.ready()
    assert [reason.word for reason in told.reasons] == ["left in place"]
    assert all(word in told.reasons[0].sentence for word in ("right rail", "Rooms rack 3", "14 March", "Jo Marlow"))
    assert (told.path[0].act, told.path[0].who, told.path[0].minutes) == ("collect", "Jo Marlow", None)


def test_a_twin_in_the_sisters_case_is_one_reason_with_both_serials(curlew):
    heron = make_system("Heron")
    hers = make_case("HER-02", home_system=heron)
    other = make_item(curlew.wide, serial="W1001", name="panel Wide", home_system=heron, home_case=hers)
    curlew.do([Fact(Verb.PLACED, hers, place=curlew.yard)])
    curlew.pack(curlew.panel, case=hers)
    curlew.pack(other)
    told = curlew.ready()
    assert [reason.word for reason in told.reasons] == ["twin swapped"]
    assert all(word in told.reasons[0].sentence for word in ("W1002", "HER-02", "W1001", "CUR-02"))
    answer = twins(curlew.system, curlew.at)
    assert answer.answer == "crossed"
    assert [pair.other.serial for pair in answer.crossed] == ["W1001"]


def test_alike_items_at_home_are_listed_to_compare_and_are_no_reason(curlew):
    heron = make_system("Heron")
    make_item(curlew.wide, serial="W1001", home_system=heron)
    answer = twins(curlew.system, curlew.at)
    assert (answer.answer, answer.reasons) == ("at home", ())
    assert [(one.item.serial, one.sisters[0][1].serial) for one in answer.compare] == [("W1002", "W1001")]


def test_a_part_in_another_systems_case_is_on_loan_there(curlew):
    hers = make_case("HER-10", home_system=make_system("Heron"))
    curlew.do([Fact(Verb.PLACED, hers, place=curlew.yard)])
    curlew.pack(curlew.rail, case=hers)
    assert curlew.words() == ["in another system's case"]


def test_a_part_away_from_every_store_of_ours_is_elsewhere(curlew):
    curlew.do([Fact(Verb.PLACED, curlew.rail, place=make_place("Fjellmark Hall", PlaceKind.VENUE), grade=Grade.SCAN)])
    assert curlew.words() == ["elsewhere"]


def test_things_known_by_word_only_are_one_look_for_each_case(curlew):
    for n in range(3):
        cord = curlew.part(make_type("cord", "Hobbinet"), name=f"cord {n}")
        curlew.pack(cord, case=curlew.rails, grade=Grade.SAID)
    told = curlew.ready()
    assert [reason.word for reason in told.reasons] == ["not confirmed"]
    assert len(told.reasons[0].items) == 3
    assert told.path[0].act == "look"


def test_a_missed_part_is_missing_and_a_found_one_is_not(curlew):
    curlew.do([Fact(Verb.MISSED, curlew.rail)])
    assert curlew.words() == ["missing"]
    curlew.do([Fact(Verb.FOUND, curlew.rail, place=curlew.case.inside)])
    assert curlew.words() == []


def test_an_open_fault_stands_until_it_is_mended(curlew):
    curlew.do([Fact(Verb.FAULTED, curlew.panel, note="dark corner")])
    told = curlew.ready()
    assert [reason.word for reason in told.reasons] == ["open fault"]
    assert "dark corner" in told.reasons[0].sentence
    curlew.do([Fact(Verb.MENDED, curlew.panel)])
    assert curlew.words() == []


def test_a_part_in_quarantine_is_a_reason_even_without_a_fault(curlew):
    shelf = make_place("shelf Q", PlaceKind.SHELF, parent=curlew.yard, is_ours=True, purpose=Purpose.QUARANTINE)
    curlew.do([Fact(Verb.QUARANTINED, curlew.panel, place=shelf, grade=Grade.SCAN)])
    assert curlew.words() == ["in quarantine"]


@pytest.mark.parametrize(("due", "words"), [(ON + timedelta(days=6), ["inspection"]), (ON + timedelta(days=7), [])])
def test_an_inspection_must_last_seven_days_past_the_day(curlew, due, words):
    curlew.rail.inspection_due = due
    curlew.rail.save(update_fields=["inspection_due"])
    assert curlew.words() == words


def test_a_type_that_asks_for_inspections_without_a_date_is_a_reason(curlew):
    unit = make_type("Distribution 6", "Drumfell", kind=Kind.DISTRIBUTION, inspection_interval_days=365)
    curlew.pack(curlew.part(unit, name="distribution unit"))
    assert curlew.words() == ["inspection"]


def test_a_part_whose_labels_are_all_retired_has_no_label(curlew):
    label = curlew.rail.labels.get()
    label.retired_at = T0
    label.save(update_fields=["retired_at"])
    assert curlew.words() == ["no label"]


def test_a_hired_part_must_be_covered_through_the_day(curlew):
    hire = make_owner("Brambleside Hire")
    headset = curlew.part(make_type("headset", "Merrowby"), name="headset", owner=hire, off_hire_at=T0)
    curlew.pack(headset)
    assert curlew.words() == ["hire ends"]


def test_without_a_blank_set_the_way_out_is_the_sets_own(curlew):
    told = curlew.ready(blank_sets=none_blank)
    assert [reason.word for reason in told.reasons] == ["no blank drive set"]
    assert told.reasons[0].way_out == "Ask Jo Marlow to release it."
    assert "CURLEW-1" in told.reasons[0].sentence


def test_too_few_of_a_kind_are_counted_over_the_systems_own(curlew):
    cord = make_type("cord 2 m", "Hobbinet", serials_required=False)
    SystemPart.objects.create(system=curlew.system, type=cord, quantity=3)
    curlew.pack(make_item(cord, home_system=curlew.system))
    told = curlew.ready()
    assert [reason.word for reason in told.reasons] == ["missing"]
    assert told.reasons[0].sentence.startswith("2 more of")


def test_pieces_that_share_a_code_fill_a_part_though_others_of_their_type_are_single(curlew):
    cord = make_type("cord 2 m", "Hobbinet", serials_required=False)
    three = make_item(cord, home_system=curlew.system, quantity=3)
    SystemPart.objects.create(system=curlew.system, item=three, quantity=3)
    curlew.pack(three)
    told = curlew.ready()
    assert (told.answer, [part.at_hand for part in told.parts if part.wanted == 3]) == ("READY", [3])


def test_a_lot_counted_short_is_missing_what_lacks_until_it_is_counted_whole(curlew):
    nuts = make_item(make_type("cage nuts", "Orrinvale", is_lot=True), home_system=curlew.system, quantity=50)
    SystemPart.objects.create(system=curlew.system, item=nuts, quantity=50)
    curlew.pack(nuts)
    curlew.do([Fact(Verb.COUNTED, nuts, quantity=30)])
    told = curlew.ready()
    assert [reason.word for reason in told.reasons] == ["missing"]
    assert told.reasons[0].sentence == f"20 of 50 {nuts} are missing: 30 were counted."
    curlew.do([Fact(Verb.COUNTED, nuts, quantity=50)])
    assert curlew.ready().answer == "READY"


def test_a_recommended_part_away_is_a_remark_and_no_reason(curlew):
    spare = curlew.part(make_type("fan", "Orrinvale"), Necessity.SPARE, name="fan tray")
    told = curlew.ready()
    assert (told.answer, told.remarks[0].items) == ("READY", (spare.pk,))


def test_the_path_puts_quick_work_first_and_open_ended_last(curlew):
    curlew.do([Fact(Verb.FAULTED, curlew.panel, note="dark corner")])
    curlew.do([Fact(Verb.LEFT, curlew.rail, place=make_place("Fjellmark Hall", PlaceKind.VENUE))])
    acts = [act.act for act in curlew.ready().path]
    assert acts == ["mend", "collect"]


def test_readiness_of_many_systems_costs_the_queries_of_one(curlew):
    with CaptureQueriesContext(connection) as one:
        readiness_of([(curlew.system, ON)], curlew.at, blank_sets=all_blank)
    for n in range(3):
        system = make_system(f"Wren {n}", slug=f"wren-{n}")
        item = make_item(curlew.wide, serial=f"W2{n}", home_system=system)
        SystemPart.objects.create(system=system, item=item)
        curlew.pack(item)
    systems = list(System.objects.all())
    with CaptureQueriesContext(connection) as many:
        readiness_of([(system, ON) for system in systems], curlew.at, blank_sets=all_blank)
    assert len(many) == len(one)


def test_a_signature_keeps_the_verdict_and_its_reasons(curlew):
    curlew.do([Fact(Verb.FAULTED, curlew.panel, note="dark corner")])
    shown = curlew.ready()
    with pytest.raises(LedgerRefusal, match="Write why"):
        sign(curlew.system, shown, words=" ", by=IDA, at=curlew.at)
    sign(curlew.system, shown, words="spare panel goes along", by=IDA, at=curlew.at)
    kept = last_signature(curlew.system, curlew.at)
    assert (kept.answer, kept.by) == ("NOT READY", "Ida Penrake")
    assert "dark corner" in kept.text and "spare panel goes along" in kept.text
    assert Entry.objects.get(verb=Verb.SIGNED).place is None


def test_the_digest_changes_with_the_reasons_and_not_with_time(curlew):
    before = digest(curlew.ready())
    curlew.at += HOUR
    assert digest(curlew.ready()) == before
    curlew.do([Fact(Verb.FAULTED, curlew.panel, note="dark corner")])
    assert digest(curlew.ready()) != before
