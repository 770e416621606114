"""Loading, departing, arriving, counting: what each act records, and what stands in its way."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from inventory import ledger
from inventory.answers.loading import live
from inventory.ledger import Fact, Witness
from inventory.models import Entry, Holding, Kind, Label, ScanReceipt, Verb
from shipping import boards, loading
from shipping.boards import Phase, State
from shipping.packing.facts import Finding, Severity
from shipping.packing.facts import State as RuleState
from tests.factories import (
    ANA,
    IDA,
    T0,
    make_case,
    make_case_type,
    make_device,
    make_item,
    make_leg,
    make_place,
    make_show,
    make_type,
    make_vehicle,
)

MINUTE = timedelta(minutes=1)


@pytest.fixture
def pim(db) -> Witness:
    phone = make_device("Pim Osgood")
    return Witness("Pim Osgood", "crew", day_pass=phone.day_pass, device=phone)


@pytest.fixture
def cases(db):
    shell = make_case_type("Trunk", tare_kg=Decimal(20))
    return [make_case(f"HER-0{n}", shell) for n in (1, 2, 3)]


@pytest.fixture
def leg(cases):
    return make_leg(cases, make_vehicle())


@pytest.fixture
def unblocked(monkeypatch):
    monkeypatch.setattr("shipping.planning.blocks_for_leg", lambda leg, at: [])


def code(item) -> str:
    return item.labels.get().code


def scan(leg, item, by, minute=0, doing=loading.LOAD):
    key = loading.scan(leg, code(item), doing, by=by, at=T0 + minute * MINUTE)
    return ScanReceipt.objects.get(pk=key)


def board(leg, minute=60):
    return boards.board(boards.legs().get(pk=leg.pk), T0 + minute * MINUTE)


def names(faces) -> list[str]:
    return [str(face.item) for face in faces]


def test_everything_listed_is_still_to_go_before_the_first_scan(leg):
    assert names(boards.board(leg, T0).to_go) == ["HER-01", "HER-02", "HER-03"]


def test_a_loaded_case_is_on_and_no_longer_to_go(leg, cases, pim):
    said = scan(leg, cases[0], pim)
    assert (said.says, said.sentence) == ("good", "HER-01 on Teasel.")
    assert names(board(leg).on) == ["HER-01"]
    assert names(board(leg).to_go) == ["HER-02", "HER-03"]
    entry = Entry.objects.get()
    assert (entry.verb, entry.grade, entry.reference, entry.by) == ("loaded", "scan", "FMC", "Pim Osgood")


def test_a_case_of_another_vehicle_is_wrong_and_recorded(leg, pim):
    other = make_case("CUR-01")
    make_leg([other], make_vehicle("Meadowrue"))
    said = scan(leg, other, pim)
    assert (said.says, said.sentence) == ("wrong", "CUR-01 goes on Meadowrue. Recorded on Teasel all the same.")
    assert names(board(leg).strangers) == ["CUR-01"]


def test_a_case_on_no_list_is_wrong_and_recorded(leg, pim):
    said = scan(leg, make_case("GEN-03"), pim)
    assert said.says == "wrong"
    assert "on no vehicle of FMC by the list" in said.sentence


def test_a_show_without_any_list_calls_no_case_wrong(pim):
    empty = make_leg([], make_vehicle())
    assert scan(empty, make_case("GEN-03"), pim).says == "good"


def test_an_unknown_code_is_kept_and_said(leg, pim):
    key = loading.scan(leg, "never seen 9", loading.LOAD, by=pim, at=T0)
    assert ScanReceipt.objects.get(pk=key).says == "unknown"
    assert Label.objects.get(code="NEVERSEEN9").entries.get().verb == "loaded"


@pytest.mark.parametrize("text", ["", "   ", "\x00\x01"])
def test_a_scan_of_nothing_says_so(leg, pim, text):
    with pytest.raises(loading.LoadingRefused, match="Nothing was read"):
        loading.scan(leg, text, loading.LOAD, by=pim, at=T0)


def test_a_bounce_within_three_seconds_is_one_entry_told_the_same(leg, cases, pim):
    first = loading.scan(leg, code(cases[0]), loading.LOAD, by=pim, at=T0)
    again = loading.scan(leg, code(cases[0]), loading.LOAD, by=pim, at=T0 + timedelta(seconds=2))
    assert first == again
    assert Entry.objects.count() == 1


def test_a_second_scan_later_is_already_done(leg, cases, pim):
    scan(leg, cases[0], pim)
    assert scan(leg, cases[0], pim, minute=5).says == "already done"


def test_undo_takes_it_off_again_by_a_correcting_entry(leg, cases, pim):
    scan(leg, cases[0], pim)
    act = Entry.objects.get().act
    loading.undo(act, by=pim, reference="FMC", at=T0 + MINUTE)
    assert names(board(leg).to_go) == ["HER-01", "HER-02", "HER-03"]
    assert sorted(Entry.objects.values_list("verb", flat=True)) == ["corrected", "loaded"]


def test_an_undone_case_may_be_loaded_anew(leg, cases, pim):
    scan(leg, cases[0], pim)
    loading.undo(Entry.objects.get().act, by=pim, reference="FMC", at=T0 + MINUTE)
    assert scan(leg, cases[0], pim, minute=2).says == "good"


def test_nobody_undoes_what_another_phone_did(leg, cases, pim):
    scan(leg, cases[0], pim)
    other = make_device("Wes Tarn", day_pass=pim.day_pass)
    wes = Witness("Wes Tarn", "crew", day_pass=pim.day_pass, device=other)
    with pytest.raises(loading.LoadingRefused, match="Only your own"):
        loading.undo(Entry.objects.get().act, by=wes, reference="FMC", at=T0 + MINUTE)


def test_departing_moves_the_vehicle_and_its_load(leg, cases, pim, unblocked):
    for case in cases:
        scan(leg, case, pim)
    entries = loading.depart(leg, by=ANA, at=T0 + MINUTE)
    assert [(entry.verb, entry.label.item, entry.reference) for entry in entries] == [("departed", leg.vehicle, "FMC")]
    assert Holding.objects.get(item=leg.vehicle).place == leg.road
    now = board(leg)
    assert (now.phase, len(now.on)) == (Phase.ON_THE_ROAD, 3)


def test_departing_asks_the_rules_and_writes_nothing_while_a_block_stands(leg, cases, pim, monkeypatch):
    finding = Finding("payload", "leg:1", Severity.BLOCK, RuleState.WRONG, "Teasel is over.", "Take HER-01 off.")
    asked = []
    monkeypatch.setattr("shipping.planning.blocks_for_leg", lambda *args: asked.append(args) or [finding])
    for case in cases:
        scan(leg, case, pim)
    before = Entry.objects.count()
    with pytest.raises(loading.Blocked) as caught:
        loading.depart(leg, by=ANA, at=T0 + MINUTE, without="")
    assert caught.value.findings == [finding]
    assert asked == [(leg, T0 + MINUTE)]
    assert Entry.objects.count() == before


def test_a_real_rule_blocks_a_real_departure(cases, pim):
    small = make_leg(cases, make_vehicle("Meadowrue", payload_kg=50))
    for case in cases:
        scan(small, case, pim)
    with pytest.raises(loading.Blocked) as caught:
        loading.depart(small, by=ANA, at=T0 + MINUTE)
    assert any("Meadowrue" in finding.sentence for finding in caught.value.findings)
    assert not Entry.objects.filter(verb=Verb.DEPARTED).exists()


def test_departing_without_a_listed_case_wants_a_reason(leg, cases, pim, unblocked):
    scan(leg, cases[0], pim)
    with pytest.raises(loading.StillToGo, match="HER-02, HER-03"):
        loading.depart(leg, by=ANA, at=T0 + MINUTE)
    entry = loading.depart(leg, by=ANA, at=T0 + MINUTE, without="van is full")[0]
    assert entry.note == "Left without HER-02, HER-03: van is full"
    assert [face.state for face in board(leg).listed] == [State.ON, State.LEFT_BEHIND, State.LEFT_BEHIND]


def test_an_empty_vehicle_does_not_depart(leg, unblocked):
    with pytest.raises(loading.LoadingRefused, match="Nothing is on board"):
        loading.depart(leg, by=ANA, at=T0)


def test_it_departs_once_and_arrives_once(leg, cases, pim, unblocked):
    for case in cases:
        scan(leg, case, pim)
    with pytest.raises(loading.LoadingRefused, match="not left yet"):
        loading.arrive(leg, by=ANA, at=T0)
    loading.depart(leg, by=ANA, at=T0 + MINUTE)
    with pytest.raises(loading.LoadingRefused, match="left already, by Ana Rell"):
        loading.depart(leg, by=ANA, at=T0 + 2 * MINUTE)
    loading.arrive(leg, by=ANA, at=T0 + 3 * MINUTE)
    with pytest.raises(loading.LoadingRefused, match="arrived already, by Ana Rell"):
        loading.arrive(leg, by=ANA, at=T0 + 4 * MINUTE)


def test_cases_are_counted_off_on_arrival_and_what_left_with_them_is_owed(leg, cases, pim, unblocked):
    for case in cases[:2]:
        scan(leg, case, pim)
    loading.depart(leg, by=ANA, at=T0 + MINUTE, without="no room")
    loading.arrive(leg, by=ANA, at=T0 + 2 * MINUTE)
    assert scan(leg, cases[0], pim, 3, loading.UNLOAD).sentence == "HER-01 at Mill Yard."
    now = board(leg)
    assert (now.phase, names(now.landed), names(now.owed)) == (Phase.ARRIVED, ["HER-01"], ["HER-02"])
    assert (names(now.behind), names(now.sent)) == (["HER-03"], ["HER-01", "HER-02"])


def test_a_case_on_no_list_is_counted_off_and_said_to_be_wrong(leg, cases, pim, unblocked):
    stranger = make_case("CUR-01")
    for case in (*cases, stranger):
        scan(leg, case, pim)
    loading.depart(leg, by=ANA, at=T0 + MINUTE)
    said = scan(leg, stranger, pim, 2, loading.UNLOAD)
    assert (said.says, said.sentence) == ("wrong", "CUR-01 is on no list of FMC. Recorded at Mill Yard all the same.")
    assert Holding.objects.get(item=stranger).place == leg.to_place


def test_a_leg_without_a_list_of_its_own_says_by_the_shows_lists_what_is_a_stranger(leg, cases, pim):
    """On and off alike: the show's other list is what says that nobody sends it."""
    bare = make_leg([], make_vehicle("Meadowrue"), show=leg.consignment.show)
    stranger = make_case("CUR-01")
    on = scan(bare, stranger, pim)
    assert (on.says, on.sentence) == (
        "wrong", "CUR-01 goes on no vehicle of FMC by the list. Recorded on Meadowrue all the same."
    )  # fmt: skip
    off = scan(bare, stranger, pim, 2, loading.UNLOAD)
    assert (off.says, off.sentence) == ("wrong", "CUR-01 is on no list of FMC. Recorded at Mill Yard all the same.")
    assert scan(bare, cases[0], pim, 3, loading.UNLOAD).says == "good"


def test_a_case_left_behind_that_turns_up_has_landed(leg, cases, pim, unblocked):
    scan(leg, cases[0], pim)
    loading.depart(leg, by=ANA, at=T0 + MINUTE, without="no room")
    scan(leg, cases[1], pim, 5, loading.UNLOAD)
    assert names(board(leg).landed) == ["HER-02"]


def test_undoing_the_departure_is_loading_again(leg, cases, pim, unblocked):
    for case in cases:
        scan(leg, case, pim)
    loading.depart(leg, by=pim, at=T0 + MINUTE)
    act = Entry.objects.get(verb=Verb.DEPARTED).act
    loading.undo(act, by=pim, reference="FMC", at=T0 + 2 * MINUTE)
    assert board(leg).phase == Phase.LOADING


def test_by_waybill_each_case_departs_and_arrives_itself(cases, pim):
    leg = make_leg(cases, None, waybill="WB-0031")
    said = scan(leg, cases[0], pim)
    assert said.says == "good"
    assert Entry.objects.get().verb == "departed"
    now = board(leg)
    assert (now.phase, names(now.on)) == (Phase.ON_THE_ROAD, ["HER-01"])
    scan(leg, cases[0], pim, 10, loading.UNLOAD)
    assert Holding.objects.get(item=cases[0]).place == leg.to_place
    assert names(board(leg).landed) == ["HER-01"]


def test_two_legs_of_one_vehicle_keep_their_own_lists(leg, cases, pim):
    other = make_case("CUR-01")
    second = make_leg([other], leg.vehicle, show=make_show("CCA"))
    scan(second, other, pim)
    assert names(board(leg).to_go) == ["HER-01", "HER-02", "HER-03"]
    assert board(leg).strangers == []
    assert names(board(second).on) == ["CUR-01"]


def test_masses_on_board_stand_against_the_limit(cases, pim):
    leg = make_leg(cases, make_vehicle("Meadowrue", payload_kg=50))
    for case in cases:
        scan(leg, case, pim)
    now = board(leg)
    assert (now.on_kg, now.limit_kg, now.is_over) == (Decimal(60), Decimal("47.50"), True)
    assert now.on[0].lift.people == 2


def test_a_case_with_something_unweighed_is_a_floor_and_has_no_lift_figure(leg, cases, pim):
    thing = make_item(make_type("Mystery", kind=Kind.OTHER))
    ledger.record([Fact(Verb.PACKED, thing, place=cases[0].inside)], by=IDA, at=T0)
    scan(leg, cases[0], pim)
    face = board(leg).on[0]
    assert (face.mass_kg, face.mass_is_floor, face.lift.people) == (Decimal(20), True, None)
    assert "not known" in face.lift.words


def test_leaving_in_place_names_the_room_the_person_and_the_day(leg, cases, kit_manager):
    promise = loading.LeavePromise(
        make_place("rack 3", "room"), kit_manager, T0 + timedelta(days=5), "until the repeat"
    )
    entry = loading.leave_in_place(cases[2], promise, reference="FMC", by=ANA, at=T0)
    assert (entry.verb, entry.place.name, entry.person, entry.note) == (
        "left",
        "rack 3",
        kit_manager,
        "until the repeat",
    )


def test_something_found_is_one_entry_known_or_not(leg, pim):
    entry = loading.found_here("NEVERSEEN9", leg.to_place, reference="FMC", by=pim, at=T0)
    assert (entry.verb, entry.label.code, entry.place) == ("found", "NEVERSEEN9", leg.to_place)


def test_a_fault_wants_a_word_or_two(leg, cases, pim):
    with pytest.raises(loading.LoadingRefused, match="what is broken"):
        loading.report_fault(code(cases[0]), "  ", None, reference="FMC", by=pim, at=T0)
    entry = loading.report_fault(code(cases[0]), "caster off", None, reference="FMC", by=pim, at=T0)
    assert (entry.verb, entry.note) == ("faulted", "caster off")


def test_a_seal_read_on_arrival_is_kept_as_read(leg, cases, pim):
    entry = loading.see_seal("HER-01", "004481", reference="FMC", by=pim, at=T0)
    assert (entry.verb, entry.seal, entry.label.item) == ("seen", "004481", cases[0])


def test_settling_a_dispute_places_the_case_and_deletes_nothing(leg, cases, pim):
    scan(leg, cases[0], pim)
    other = make_vehicle("Meadowrue")
    loading.settle_dispute(cases[0], other.inside, reference="FMC", by=ANA, at=T0 + MINUTE)
    assert Holding.objects.get(item=cases[0]).place == other.inside
    assert live(T0 + MINUTE).count() == 2


def test_a_board_costs_the_same_however_many_cases(leg, cases, pim, django_assert_num_queries):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    def cost() -> int:
        with CaptureQueriesContext(connection) as ran:
            for face in board(leg).faces:
                assert all((face.code, face.size, face.lift, face.where))
                assert face.colour == ""
        return len(ran)

    for case in cases:
        scan(leg, case, pim)
    few = cost()
    for n in range(10, 30):
        case = make_case(f"HER-{n}", cases[0].type)
        leg.consignment.cases.create(case=case, position=n)
        scan(leg, case, pim, minute=n)
    assert cost() == few
