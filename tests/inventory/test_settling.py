"""Holding: where each thing is by present knowledge."""

from __future__ import annotations

from datetime import timedelta
from uuid import UUID

import pytest

from inventory import ledger, settling
from inventory.ledger import Fact
from inventory.models import DayPass, Device, Entry, Grade, Holding, Kind, PlaceKind, Role, Verb
from inventory.registering import inside_of
from tests.factories import ANA, IDA, T0, make_case, make_case_type, make_drive, make_item, make_place, make_type

pytestmark = pytest.mark.django_db
MINUTE = timedelta(minutes=1)


def place(item, where, minutes=0, verb=Verb.PLACED, by=IDA, **over):
    at = T0 + minutes * MINUTE
    return ledger.record([Fact(verb, item, place=where, happened_at=at, **over)], by=by, at=at)[0]


def holding(item):
    held = Holding.objects.get(pk=item.pk)
    return held.place, held.bay


@pytest.fixture
def box():
    return make_case("HER-04", make_case_type("Drive box", slots="A B C", pockets="P", for_drives=True))


@pytest.fixture
def device():
    return Device.objects.create(name="Pim Osgood", token_hash="p" * 64, joined_at=T0)


def test_the_newest_placing_wins_whatever_arrives_last():
    item, yard, quay = make_item(), make_place("Mill Yard"), make_place("Quay Unit")
    place(item, quay, minutes=5)
    ledger.record([Fact(Verb.PLACED, item, place=yard, happened_at=T0)], by=IDA, at=T0 + 60 * MINUTE)
    assert holding(item) == (quay, "")


def test_a_correction_gives_the_place_before_back():
    item, yard, quay = make_item(), make_place("Mill Yard"), make_place("Quay Unit")
    place(item, yard)
    wrong = place(item, quay, minutes=1)
    ledger.correct(wrong.act, reason="wrong item", by=IDA, at=T0 + 2 * MINUTE)
    assert holding(item) == (yard, "")


def test_a_correction_by_somebody_elses_phone_counts_for_nothing(device):
    item, yard, quay = make_item(), make_place("Mill Yard"), make_place("Quay Unit")
    place(item, yard)
    act = place(item, quay, minutes=1).act
    pim = ledger.Witness("Pim Osgood", Role.CREW, device=device)
    ledger.correct(act, reason="not mine", by=pim, at=T0 + 2 * MINUTE)
    ledger.correct(act, reason="not mine either", by=ANA, at=T0 + 3 * MINUTE)
    assert holding(item) == (quay, "")


def test_a_pass_that_calls_itself_kit_manager_corrects_nothing_of_others():
    day_pass = DayPass.objects.create(
        reference="FJELL", code="K7", verbs="seen", valid_from=T0, valid_until=T0, made_by="Ida", made_at=T0
    )
    item, yard, quay = make_item(), make_place("Mill Yard"), make_place("Quay Unit")
    place(item, yard)
    act = place(item, quay, minutes=1).act
    pim = ledger.Witness("Pim Osgood", Role.KIT_MANAGER, day_pass=day_pass)
    ledger.correct(act, reason="not mine", by=pim, at=T0 + 2 * MINUTE)
    assert holding(item) == (quay, "")


def test_a_phone_takes_back_its_own_scan(device):
    item, yard, quay = make_item(), make_place("Mill Yard"), make_place("Quay Unit")
    pim = ledger.Witness("Pim Osgood", Role.CREW, device=device)
    place(item, yard)
    act = place(item, quay, minutes=1, by=pim).act
    ledger.correct(act, reason="slip", by=pim, at=T0 + 2 * MINUTE)
    assert holding(item) == (yard, "")


def test_an_import_never_moves_what_somebody_placed():
    item, yard, quay = make_item(), make_place("Mill Yard"), make_place("Quay Unit")
    place(item, yard)
    place(item, quay, minutes=5, grade=Grade.IMPORT)
    assert holding(item) == (yard, "")


def test_an_import_counts_while_nothing_else_is_known():
    item, yard = make_item(), make_place("Mill Yard")
    place(item, yard, grade=Grade.IMPORT)
    assert holding(item) == (yard, "")


def test_what_cannot_be_is_not_a_placing(box):
    yard = make_place("Mill Yard")
    frame = make_item(make_type("Ebbmark 6", "Orrinvale", kind=Kind.FRAME))
    van = make_case("MEADOWRUE", make_case_type("Long van", kind=Kind.VEHICLE))
    for item, where in ((box, box.inside), (van, box.inside), (frame, yard)):
        place(item, yard)
        place(item, where, minutes=1)
    drive = make_drive("71B04K")
    place(drive, yard)
    place(drive, inside_of(frame), minutes=1)
    assert [holding(thing)[0] for thing in (box, van, drive)] == [yard] * 3


def test_a_van_goes_on_a_ferry():
    ferry = make_case("FERRY", make_case_type("Ferry", kind=Kind.VEHICLE))
    van = make_case("MEADOWRUE", make_case_type("Long van", kind=Kind.VEHICLE))
    place(van, ferry.inside)
    assert holding(van) == (ferry.inside, "")


def test_the_last_one_named_into_a_bay_has_it(box):
    old, new = make_drive("71B04K"), make_drive("71B05K")
    place(old, box.inside, bay="C")
    place(new, box.inside, minutes=1, bay="C")
    assert holding(old) == (box.inside, "")
    assert holding(new) == (box.inside, "C")


def test_the_displaced_gets_its_bay_back_only_by_a_correction(box):
    old, new = make_drive("71B04K"), make_drive("71B05K")
    place(old, box.inside, bay="C")
    act = place(new, box.inside, minutes=1, bay="C").act
    place(new, make_place(), minutes=2)
    assert holding(old) == (box.inside, "")
    ledger.correct(act, reason="misread", by=IDA, at=T0 + 3 * MINUTE)
    assert holding(old) == (box.inside, "C")


def test_a_placing_without_a_bay_keeps_the_bay_until_the_item_has_left(box):
    drive = make_drive("71B04K")
    place(drive, box.inside, bay="A")
    place(drive, box.inside, minutes=1, verb=Verb.SEEN)
    assert holding(drive) == (box.inside, "A")
    place(drive, make_place(), minutes=2)
    place(drive, box.inside, minutes=3)
    assert holding(drive) == (box.inside, "")


def test_a_pocket_holds_many(box):
    drives = [make_drive("71B04K"), make_drive("71B05K")]
    for drive in drives:
        place(drive, box.inside, bay="P")
    assert {holding(drive)[1] for drive in drives} == {"P"}


def test_an_import_that_no_longer_counts_gives_the_bay_back(box):
    old, new = make_drive("71B04K"), make_drive("71B05K")
    place(old, box.inside, bay="C", grade=Grade.IMPORT)
    place(new, box.inside, minutes=1, bay="C", grade=Grade.IMPORT)
    assert holding(old) == (box.inside, "")
    place(new, make_place(), minutes=2)
    assert holding(old) == (box.inside, "C")


def test_a_code_adopted_later_brings_its_entries_along():
    from inventory import codes

    [label] = codes.issue_blank(1, at=T0)
    yard, item = make_place(), make_item()
    place(label, yard)
    ledger.adopt(label, item, at=T0)
    assert holding(item) == (yard, "")
    with pytest.raises(ledger.LedgerRefusal, match="for ever"):
        ledger.adopt(label, make_item(), at=T0)


def test_a_rebuild_gives_the_same_rows(box):
    drives = [make_drive(f"71B0{n}K") for n in range(4)]
    for n, drive in enumerate(drives):
        place(drive, box.inside, minutes=n, bay="ABCC"[n])
    place(box, make_place("Fjellmark Hall", PlaceKind.VENUE), minutes=9)
    before = list(Holding.objects.order_by("pk").values())
    Holding.objects.all().delete()
    settling.rebuild()
    assert list(Holding.objects.order_by("pk").values()) == before
    assert len(before) == 5


def moves(box, drives):
    for n, drive in enumerate(drives):
        place(drive, box.inside, minutes=n, bay="ABCC"[n])
    wrong = place(drives[0], make_place("Fjellmark Hall", PlaceKind.VENUE), minutes=8)
    ledger.correct(wrong.act, reason="another drive", by=IDA, at=T0 + 9 * MINUTE)


def test_a_story_settled_once_ends_where_one_settled_act_by_act_ends(box):
    drives = [make_drive(f"71B0{n}K") for n in range(4)]
    with ledger.settled_once():
        moves(box, drives)
        assert not Holding.objects.filter(item__in=drives, entry__isnull=False).exists()
    once = list(Holding.objects.order_by("pk").values("item_id", "place_id", "bay"))
    other = make_case("HER-05", box.type)
    again = [make_drive(f"72C0{n}K") for n in range(4)]
    moves(other, again)
    assert [holding(drive)[1] for drive in drives] == [holding(drive)[1] for drive in again] == ["A", "B", "", "C"]
    assert {row["place_id"] for row in once if row["item_id"] in {d.pk for d in drives}} == {box.inside.pk}


def test_a_story_that_breaks_off_leaves_nothing_and_the_next_act_settles(box):
    drive, yard = make_drive("71B00K"), make_place()
    with pytest.raises(ZeroDivisionError), ledger.settled_once():
        place(drive, box.inside)
        raise ZeroDivisionError
    assert not Entry.objects.exists()
    place(drive, yard, minutes=1)
    assert holding(drive) == (yard, "")


def entry(item, where, number, **over):
    fields = {
        "verb": Verb.PLACED,
        "grade": Grade.SCAN,
        "by": "Pim Osgood",
        "role": Role.CREW,
        "happened_at": T0,
        **over,
    }
    label = item.labels.get()
    return Entry(id=UUID(int=number), act=UUID(int=number), label=label, place=where, received_at=T0, **fields)


def test_a_resend_adds_nothing_and_says_so():
    item, yard = make_item(), make_place()
    assert ledger.append([entry(item, yard, 1)], T0) == {UUID(int=1)}
    assert ledger.append([entry(item, yard, 1), entry(item, yard, 2)], T0) == {UUID(int=2)}
    assert ledger.append([entry(item, yard, 1), entry(item, yard, 2)], T0) == set()
    assert Entry.objects.count() == 2


def test_the_first_of_two_with_one_id_stands():
    item, yard, quay = make_item(), make_place("Mill Yard"), make_place("Quay Unit")
    ledger.append([entry(item, yard, 1), entry(item, quay, 1)], T0)
    assert Entry.objects.get().place == yard


def test_nothing_happens_after_it_was_received():
    item, yard = make_item(), make_place()
    ledger.append([entry(item, yard, 1, happened_at=T0 + 90 * MINUTE)], T0 + MINUTE)
    assert Entry.objects.get().happened_at == T0 + MINUTE


def scanned(*told, **over):
    """One upload of placings by a phone: of (item, place, minute) each."""
    made = [
        entry(item, where, number, happened_at=T0 + minute * MINUTE, **over)
        for number, (item, where, minute) in enumerate(told, 1000 + Entry.objects.count())
    ]
    ledger.append(made, T0 + 600 * MINUTE)
    return made


@pytest.fixture
def anew(monkeypatch):
    """The things of which everything was read anew."""
    found, really = [], settling._settle_anew

    def settled(items, *beside):
        items = set(items)
        found.extend(items)
        really(items, *beside)

    monkeypatch.setattr(settling, "_settle_anew", settled)
    return found


def test_what_only_goes_on_is_not_read_anew(anew):
    item, yard, quay = make_item(), make_place("Mill Yard"), make_place("Quay Unit")
    place(item, yard)
    anew.clear()
    scanned((item, quay, 5), (item, yard, 4), (item, quay, 6))
    assert holding(item) == (quay, "")
    assert anew == []


def test_what_goes_on_within_its_case_keeps_its_bay_and_outside_loses_it(box, anew):
    kept, gone = make_drive("71B04K"), make_drive("71B05K")
    place(kept, box.inside, bay="A")
    place(gone, box.inside, bay="B")
    anew.clear()
    yard = make_place()
    scanned((kept, box.inside, 5), (gone, yard, 5), (gone, box.inside, 6))
    assert [holding(kept)[1], holding(gone)[1]] == ["A", ""]
    assert anew == []


@pytest.mark.parametrize("how", ["late", "into a bay", "by an import", "after an import", "for the first time"])
def test_whatever_else_an_entry_does_has_everything_read(box, anew, how):
    item, yard = make_drive("71B04K"), make_place("Mill Yard")
    if how != "for the first time":
        place(item, yard, minutes=5, grade=Grade.IMPORT if how == "after an import" else Grade.SCAN)
    anew.clear()
    over = {"bay": "A"} if how == "into a bay" else {"grade": Grade.IMPORT} if how == "by an import" else {}
    scanned((item, box.inside, 2 if how == "late" else 9), **over)
    moved = how not in {"late", "by an import"}
    assert holding(item) == ((box.inside, "A" if how == "into a bay" else "") if moved else (yard, ""))
    assert anew == [item.pk]


def test_a_scan_that_was_taken_back_before_it_came_moves_nothing(device, anew):
    item, yard, quay = make_item(), make_place("Mill Yard"), make_place("Quay Unit")
    place(item, yard)
    pim = ledger.Witness("Pim Osgood", Role.CREW, device=device)
    [late] = [entry(item, quay, 77, happened_at=T0 + MINUTE, device=device)]
    ledger.correct(late.act, reason="slip", by=pim, at=T0 + 2 * MINUTE)
    anew.clear()
    ledger.append([late], T0 + 3 * MINUTE)
    assert holding(item) == (yard, "")
    assert anew == [item.pk]


def test_a_correction_in_the_same_upload_has_everything_read(device, anew):
    item, yard, quay = make_item(), make_place("Mill Yard"), make_place("Quay Unit")
    place(item, yard)
    made = [
        entry(item, where, 50 + n, happened_at=T0 + n * MINUTE, device=device) for n, where in ((1, quay), (2, yard))
    ]
    undo = Entry(
        id=UUID(int=60), act=UUID(int=60), verb=Verb.CORRECTED, corrects=made[1].act, device=device, received_at=T0,
        happened_at=T0 + 3 * MINUTE, by="Pim Osgood", role=Role.CREW, grade=Grade.SCAN,
    )  # fmt: skip
    anew.clear()
    ledger.append([*made, undo], T0 + 5 * MINUTE)
    assert holding(item) == (quay, "")
    assert set(anew) == {item.pk}
