"""Where is it, how sure, since when."""

from __future__ import annotations

from datetime import timedelta
from uuid import UUID

import pytest

from inventory import ledger
from inventory.answers.values import Strength
from inventory.answers.whereabouts import whereabouts, whereabouts_of
from inventory.ledger import Fact, Witness
from inventory.models import Device, Entry, Grade, Kind, Person, Place, PlaceKind, Role, Verb
from tests.factories import IDA, T0, make_case, make_case_type, make_drive, make_item, make_place, make_type

pytestmark = pytest.mark.django_db
MINUTE = timedelta(minutes=1)


def do(minutes, verb, item, where=None, by=IDA, **over):
    at = T0 + minutes * MINUTE
    place = getattr(where, "inside", where)
    return ledger.record([Fact(verb, item, place=place, happened_at=at, **over)], by=by, at=at)[0]


def told(item, minutes=600, **over):
    return whereabouts(item, T0 + minutes * MINUTE, **over)


def words(item, **over):
    return [link.strength.value for link in told(item, **over).links]


def phone(name):
    device = Device.objects.create(name=name, token_hash=name.ljust(64, "x"), joined_at=T0)
    return Witness(name, Role.CREW, device=device)


@pytest.fixture
def yard():
    return make_place("Mill Yard")


@pytest.fixture
def box():
    return make_case("HER-04", make_case_type("Drive box", slots="A B C", pockets="P", for_drives=True))


@pytest.fixture
def van():
    return make_case("Teasel", make_case_type("Box van", kind=Kind.VEHICLE, payload_kg=2400))


@pytest.fixture
def drive():
    return make_drive("71B04K", number="HERON-2 C")


@pytest.fixture
def packed(box, drive, yard):
    do(0, Verb.PLACED, box, yard)
    do(1, Verb.PACKED, drive, box, bay="C")
    return drive


def test_what_was_just_packed_is_seen(packed):
    answer = told(packed)
    assert answer.answer == "seen"
    assert answer.sentence == "HERON-2 C is in HER-04, C, at Mill Yard."
    assert answer.since == T0
    assert answer.fixed_place.name == "Mill Yard"
    assert [link.bay for link in answer.links] == ["C", ""]


def test_nobody_has_said(drive):
    answer = told(drive)
    assert (answer.answer, answer.links) == ("place unknown", ())
    assert answer.sentence == "Nobody has said where HERON-2 C is."


def test_home_and_plan_speak_while_nobody_has_placed_it(drive, box, yard):
    do(0, Verb.PLACED, box, yard)
    drive.home_case = box
    drive.save()
    assert told(drive).sentence == "HERON-2 C should be in HER-04, at Mill Yard."
    other = make_case("HER-03")
    assert told(drive, planned=other).links[0].place.name == "HER-03"
    do(1, Verb.PLACED, drive, yard)
    assert told(drive, planned=other).links[0].place.name == "Mill Yard"


def test_what_was_only_said_says_so(box, drive, yard):
    do(0, Verb.PLACED, box, yard)
    do(1, Verb.PACKED, drive, box, grade=Grade.SAID)
    assert words(drive) == ["said", "seen"]


def test_a_scan_of_the_case_is_no_sight_of_what_is_in_it(box, drive, yard):
    do(0, Verb.PLACED, box, yard)
    do(1, Verb.PACKED, drive, box, grade=Grade.SAID)
    do(2, Verb.SEEN, box, grade=Grade.SCAN)
    assert words(drive)[0] == "said"


def test_a_seal_makes_it_strong_and_says_its_number(packed, box, van):
    do(2, Verb.SEALED, box, seal="004470")
    do(3, Verb.LOADED, box, van, grade=Grade.SCAN)
    answer = told(packed)
    assert [link.strength for link in answer.links] == [Strength.SEALED_IN, Strength.SEEN]
    assert answer.sentence == "HERON-2 C is in HER-04, C, on Teasel."
    assert answer.reasons[0].sentence == ("HERON-2 C in HER-04: sealed in · seal 004470 · ticked by eye by Ida Penrake")


def test_a_broken_seal_weakens_until_somebody_looks(packed, box):
    do(2, Verb.SEALED, box, seal="004470")
    do(3, Verb.SEAL_BROKEN, box)
    assert words(packed)[0] == "was in here"
    do(4, Verb.SEEN, packed, grade=Grade.SCAN)
    assert words(packed)[0] == "seen"


def test_another_seal_number_opens_it_without_a_break(packed, box):
    do(2, Verb.SEALED, box, seal="004418")
    do(3, Verb.SEEN, box, seal="004481", grade=Grade.SCAN)
    assert words(packed)[0] == "was in here"


def test_sealing_again_with_another_number_opens_then_seals(packed, box):
    do(2, Verb.SEALED, box, seal="1")
    do(3, Verb.SEALED, box, seal="2")
    link = told(packed).links[0]
    assert (link.strength, link.seal) == (Strength.WAS_IN_HERE, "2")


def test_one_scan_elsewhere_opens_a_sealed_case_or_it_was_never_in_there(packed, box, yard):
    other = make_drive("71B05K")
    do(1, Verb.PACKED, other, box, bay="B")
    do(2, Verb.SEALED, box, seal="1")
    do(3, Verb.PLACED, other, yard, grade=Grade.SCAN)
    link = told(packed).links[0]
    assert (link.strength, link.remark) == (Strength.WAS_IN_HERE, "or was never in there")


def test_a_word_opens_nothing(packed, box, yard):
    other = make_drive("71B05K")
    do(1, Verb.PACKED, other, box, bay="B")
    do(2, Verb.SEALED, box, seal="1")
    do(3, Verb.PLACED, other, yard, grade=Grade.SAID)
    assert words(packed)[0] == "sealed in"


def test_another_phones_packing_within_a_minute_of_the_seal_opens_nothing(packed, box):
    ana, pim, late = phone("Ana"), phone("Pim"), make_drive("71B05K")
    do(2, Verb.SEALED, box, seal="1", by=ana)
    do(2.5, Verb.PACKED, late, box, by=pim, grade=Grade.SCAN)
    assert (words(packed)[0], words(late)[0]) == ("sealed in", "seen")
    do(3.5, Verb.PACKED, make_drive("71B06K"), box, by=pim, grade=Grade.SCAN)
    assert words(packed)[0] == "was in here"


def test_a_scan_deep_inside_opens_the_outer_case(packed, box):
    trunk = make_case("HER-14", make_case_type("Trunk"))
    do(2, Verb.PACKED, box, trunk)
    cable = make_item(make_type("Fibre 50"))
    do(2, Verb.PACKED, cable, trunk)
    do(3, Verb.SEALED, trunk, seal="9")
    assert words(cable)[0] == "sealed in"
    do(4, Verb.CHECKED, packed, grade=Grade.SCAN)
    assert words(cable)[0] == "was in here"


def test_an_unsealed_case_that_was_moved_carries(packed, box):
    do(2, Verb.PLACED, box, make_place("Fjellmark Hall", PlaceKind.VENUE))
    assert words(packed)[0] == "carried"


def test_a_frame_that_moves_keeps_its_bays_seen(drive, yard):
    frame = make_case("HERON", make_case_type("Ebbmark 6", kind=Kind.FRAME, slots="A B"))
    do(0, Verb.PLACED, frame, yard)
    do(1, Verb.FITTED, drive, frame, bay="A")
    do(2, Verb.PLACED, frame, make_place("Fjellmark Hall", PlaceKind.VENUE))
    assert words(drive)[0] == "seen"


def test_what_is_taken_out_of_an_unsealed_case_weakens_the_rest(packed, box, yard):
    other = make_drive("71B05K")
    do(1, Verb.PACKED, other, box, bay="B")
    do(2, Verb.PLACED, other, yard)
    assert words(packed)[0] == "was in here"


def test_the_first_case_off_a_van_after_it_arrived_weakens_the_rest(box, van, yard):
    other, venue = make_case("HER-05"), make_place("Fjellmark Hall", PlaceKind.VENUE)
    do(0, Verb.PLACED, van, yard)
    for case in (box, other):
        do(1, Verb.LOADED, case, van, grade=Grade.SCAN)
    do(2, Verb.DEPARTED, van, make_place("Carrowmere to Fjellmark", PlaceKind.ROAD))
    do(3, Verb.ARRIVED, van, venue)
    assert words(box) == ["seen", "seen"]
    do(4, Verb.UNLOADED, other, venue, grade=Grade.SCAN)
    assert words(box) == ["was in here", "seen"]


def test_a_loop_cuts_its_oldest_link(yard):
    one, two = make_case("HER-01"), make_case("HER-02")
    do(1, Verb.PACKED, one, two)
    do(2, Verb.PACKED, two, one)
    cut, kept = told(one), told(two)
    assert [link.strength.value for link in cut.links] == ["place unknown"]
    assert cut.links[0].remark == "was in HER-02"
    assert [link.strength.value for link in kept.links] == ["seen", "place unknown"]
    assert kept.sentence == "HER-02 is in HER-01, but nobody can say where HER-01 is; it was in HER-02."
    assert set(cut.links[0].cites) == set(Entry.objects.values_list("pk", flat=True))


def test_two_phones_two_vans_is_a_dispute_until_somebody_unloads(box, van, yard):
    ana, pim = phone("Ana Rell"), phone("Pim Osgood")
    meadowrue = make_case("Meadowrue", make_case_type("Box van", kind=Kind.VEHICLE))
    do(1, Verb.LOADED, box, van, by=ana, grade=Grade.SCAN)
    do(9, Verb.LOADED, box, meadowrue, by=pim, grade=Grade.SCAN)
    answer = told(box)
    assert answer.answer == "in dispute"
    assert "Ana Rell loaded HER-04 on Teasel." in [reason.sentence for reason in answer.reasons]
    do(10, Verb.UNLOADED, box, yard)
    assert told(box).answer == "seen"


def test_two_vans_an_hour_apart_are_two_facts(box, van):
    meadowrue = make_case("Meadowrue", make_case_type("Box van", kind=Kind.VEHICLE))
    do(1, Verb.LOADED, box, van, by=phone("Ana"), grade=Grade.SCAN)
    do(61, Verb.LOADED, box, meadowrue, by=phone("Pim"), grade=Grade.SCAN)
    assert told(box).answer != "in dispute"


def test_a_clock_that_was_47_minutes_slow_widens_the_dispute(box, van):
    meadowrue = make_case("Meadowrue", make_case_type("Box van", kind=Kind.VEHICLE))
    ana, pim = phone("Ana"), phone("Pim")
    do(61, Verb.LOADED, box, van, by=ana, grade=Grade.SCAN)
    for seq, offset in ((1, 0), (2, 47 * 60_000)):
        Entry.objects.create(
            id=UUID(int=seq), act=UUID(int=seq), verb=Verb.LOADED if seq == 1 else Verb.SEEN, label=box.labels.get(),
            place=meadowrue.inside if seq == 1 else None, grade=Grade.SCAN, by="Pim", role=Role.CREW, received_at=T0,
            happened_at=T0 + MINUTE, device=pim.device, device_seq=seq, offset_ms=offset,
        )  # fmt: skip
    answer = told(box)
    assert answer.answer == "in dispute"


def test_missed_stays_missing_until_it_is_found(packed):
    do(5, Verb.MISSED, packed)
    answer = told(packed)
    assert (answer.answer, answer.sentence) == (
        "missing",
        "HERON-2 C is missing. HERON-2 C was last in HER-04, C, at Mill Yard.",
    )
    do(6, Verb.FOUND, packed)
    assert told(packed).answer == "seen"


def test_the_past_is_read_by_what_is_known_now(packed, yard):
    act = do(5, Verb.PLACED, packed, yard).act
    assert [told(packed, minutes=m).links[0].place.name for m in (2, 6)] == ["HER-04", "Mill Yard"]
    do(9, Verb.CORRECTED, None, corrects=act)
    assert told(packed, minutes=6).links[0].place.name == "HER-04"
    known_then = told(packed, minutes=6, known_at=T0 + 8 * MINUTE)
    assert known_then.links[0].place.name == "Mill Yard"


def test_in_whose_hands_and_what_is_gone(drive):
    jo = Person.objects.create(name="Jo Marlow")
    hands = Place.objects.create(name="Jo Marlow", kind=PlaceKind.PERSON, person=jo)
    do(1, Verb.HANDED_OVER, drive, hands)
    assert told(drive).sentence == "HERON-2 C is with Jo Marlow."
    do(2, Verb.WRITTEN_OFF, drive, make_place("gone", PlaceKind.GONE))
    assert told(drive).sentence == "HERON-2 C is gone for good."


def test_many_cost_as_many_queries_as_one(packed, box, van, django_assert_max_num_queries):
    drives = [packed] + [make_drive(f"72B{n:02}K") for n in range(12)]
    for n, other in enumerate(drives[1:]):
        do(2, Verb.PACKED, other, box, bay="ABCP"[n % 4])
    do(3, Verb.SEALED, box, seal="1")
    do(4, Verb.LOADED, box, van)
    with django_assert_max_num_queries(40) as one:
        whereabouts_of([packed.pk], T0 + 10 * MINUTE)
    with django_assert_max_num_queries(len(one)):
        found = whereabouts_of([drive.pk for drive in drives], T0 + 10 * MINUTE)
    assert {answer.answer for answer in found.values()} == {"sealed in"}
