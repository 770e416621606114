"""Custody: who gave what to whom, signed and dated, and where the chain is broken.

The invariants are our own (after the fields of NIST's sample chain-of-custody form, from memory): the receiver of
one line gives on the next, times never run backwards, one holder at a time, nothing after destruction.
"""

from __future__ import annotations

import base64
import io
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from PIL import Image, ImageDraw

from inventory import hands
from inventory.answers.custody_lines import custody_of
from inventory.answers.drive_loading import book_for
from inventory.answers.holders import holders
from inventory.answers.wiping import open_book, wipe_answer
from inventory.models import Entry, Item, Person, Photo, Place, PlaceKind, Verb
from tests.factories import ANA, T0
from tests.inventory.histories import History
from tests.inventory.test_drive_pages import done
from tests.inventory.test_wipe_table import RELEASED

pytestmark = pytest.mark.django_db
MEMBER = "1 blank A\n1 join A\n"


def lines(history: History, letter: str = "A"):
    drive, at = history.drives[letter].pk, max(history.now, history.told) + timedelta(hours=1)
    return custody_of(open_book(book_for(drives=[drive]), at), [drive])


def broken(found) -> list[str]:
    """The invariants, checked on the lines themselves: each break must carry its gap."""
    wrong = []
    for before, after in zip(found, found[1:], strict=False):
        if before.at > after.at:
            wrong.append(f"{after.at} runs backwards")
        if before.receiver != after.giver and not after.gap:
            wrong.append(f"{before.receiver} held it and {after.giver} gave it")
    return wrong


def test_a_whole_chain_has_no_gap_and_joins_line_to_line():
    history = History().tell(MEMBER + "2 hand A Ana\n3 hand A Jo Ana\n5 receive A Jo")
    found = lines(history)
    assert [(line.giver, line.receiver) for line in found[-3:]] == [
        ("Mill Yard", "Ana"), ("Ana", "Jo"), ("Jo", "Mill Yard"),
    ]  # fmt: skip
    assert not [line.gap for line in found if line.gap] and broken(found) == []


def test_received_from_somebody_who_did_not_hold_it_is_a_gap_and_not_known():
    history = History().tell(RELEASED + "13 hand A Ana\n14 receive A Jo")
    last = lines(history)[-1]
    assert "Jo gave it" in last.gap and last.giver == "Jo"
    answer = wipe_answer(history.drives["A"], history.now + timedelta(hours=1))
    assert answer.answer == "NOT KNOWN" and "custody gap" in {reason.word for reason in answer.reasons}


def test_the_receiver_of_each_line_gives_on_the_next_or_the_line_says_that_it_breaks():
    history = History().tell(MEMBER + "2 hand A Ana\n3 hand A Jo Wes\n5 receive A Jo\n6 receive A Ana")
    found = lines(history)
    assert broken(found) == [] and [bool(line.gap) for line in found[-4:]] == [False, True, False, True]


def test_times_of_the_lines_never_run_backwards_though_one_was_told_late():
    history = History().tell(MEMBER + "2 hand A Ana\n6 receive A Jo\n4@9 hand A Jo Ana")
    found = lines(history)
    assert [line.at for line in found] == sorted(line.at for line in found) and broken(found) == []
    assert [line.receiver for line in found[-3:]] == ["Ana", "Jo", "Mill Yard"] and found[-2].stated
    assert [line.giver for line in found[-2:]] == ["Ana", "Jo"] and not found[-1].gap, "told late, it closes the gap"


def test_a_drive_has_one_holder_at_any_time():
    history = History().tell(MEMBER)
    for hour, giver, holder in ((2, "Tomas", "Ana"), (3, "Ana", "Jo"), (4, "Jo", "Tomas")):
        history.tell(f"{hour} hand A {holder} {giver}")
        (one,) = holders(T0 + timedelta(hours=hour, minutes=1), [history.drives["A"].pk])
        assert one.person.name == holder and len(one.things) == 1


def test_a_destroyed_drive_takes_no_more_lines_without_a_gap():
    begun = "2 wipe A begun Tomas destroy\n3 wipe A verified Ida destroy\n"
    history = History().tell(MEMBER + "1 hand A Ana\n" + begun + "4 hand A Jo Ana")
    assert lines(history)[-1].gap == "It was destroyed before this; a destroyed drive changes hands no more."
    assert not any(line.gap for line in lines(history)[:-1])


def test_a_drive_that_was_written_off_takes_no_more_lines_without_a_gap_until_it_is_found():
    history = History().tell(MEMBER + "2 scrap A\n3 hand A Jo")
    assert lines(history)[-1].gap == "It was written off before this, and nobody said how it came back."
    history.tell("4 blank B\n5 join B\n6 scrap B\n7 find B\n8 hand B Jo")
    assert not any(line.gap for line in lines(history, "B"))


def test_a_drive_that_went_back_to_its_owner_takes_no_more_lines_without_a_gap_unless_it_is_received_again():
    gone = MEMBER + "2 owner A Brambleside\n3 hand A Steward\n"
    history = History().tell(gone + "4 put A Quay")
    assert lines(history)[-1].gap == "It is not ours and had gone back before this; nobody received it again."
    history.tell("5 blank B\n5 owner B Brambleside\n6 hand B Steward\n7 receive B Steward")
    assert not any(line.gap for line in lines(history, "B"))


def test_each_line_says_where_as_far_as_the_book_knows():
    history = History().tell(MEMBER + "2 hand A Ana\n3 hand A Jo Ana\n5 receive A Jo Quay")
    assert [line.place for line in lines(history)[-3:]] == ["Mill Yard", "", "Quay Unit"]


def test_out_of_somebodys_hands_without_a_receipt_is_told():
    history = History().tell(MEMBER + "2 hand A Ana\n3 put A Mill")
    last = lines(history)[-1]
    assert (last.giver, last.receiver, last.receipt, last.gap) == ("Ana", "Mill Yard", False, "")


def test_a_move_within_one_store_is_no_change_of_hands():
    history = History().tell(MEMBER)
    before = len(lines(history))
    history.places["shelf"] = Place.objects.create(name="A1", kind=PlaceKind.SHELF, parent=history.places["Mill"])
    history.tell("3 put A shelf")
    assert len(lines(history)) == before


def test_a_case_that_is_handed_over_takes_its_drives_along():
    history = History().tell(MEMBER + "2 put A box")
    history.fact(Verb.PLACED, history.box, place=history.places["Mill"])
    history.tell("3 new A")
    history.fact(Verb.HANDED_OVER, history.box, place=history.hands("Ana"), person=history.person("Ana"))
    assert lines(history)[-1].receiver == "Ana"
    (one,) = holders(history.now + timedelta(hours=1), [history.drives["A"].pk])
    assert one.person.name == "Ana" and one.things[0].via


def test_drives_that_change_hands_together_are_one_line_on_the_page(told, staff, sign_in):
    history = told("1 blank AB\n1 join AB")
    hands.hand_over(
        [history.drives["A"], history.drives["B"]], history.person("Jo"), by=ANA, at=history.now + timedelta(minutes=5)
    )
    page = sign_in(staff).get("/set/heron-1/").content.decode()
    assert "<code>71B0AK</code>, <code>71B0BK</code>: Mill Yard to Jo" in page


def png() -> str:
    image = Image.new("RGB", (640, 200), "white")
    ImageDraw.Draw(image).line([(20, 150), (300, 40), (600, 160)], fill="black", width=3)
    out = io.BytesIO()
    image.save(out, "PNG")
    return "data:image/png;base64," + base64.b64encode(out.getvalue()).decode()


def test_a_hand_over_is_signed_with_a_finger_for_a_purpose_until_a_day(told, road_lead, sign_in):
    history = told(MEMBER)
    jo = history.person("Jo")
    Person.objects.filter(pk=jo.pk).update(phone="+44 20 7946 0000")
    page = done(
        sign_in(road_lead), "hand-over", drives=history.drives["A"].pk, person=jo.pk, purpose="to copy at the office",
        due_at="2026-03-20T18:00", condition="good", seal="004470", note="receipt R-0117", signed_by="J. Marlow",
        signature=png(),
    )  # fmt: skip
    signed = Entry.objects.get(verb=Verb.SIGNED)
    assert signed.value == "J. Marlow" and "to copy at the office" in signed.note and "71B0AK" in signed.note
    assert signed.act == Entry.objects.get(verb=Verb.HANDED_OVER).act and Photo.objects.get() == signed.photo
    for words in ("for to copy at the office", "seal 004470", "Signed by J. Marlow", "+44 20 7946 0000"):
        assert words in page


def test_a_name_in_letters_is_enough_and_a_broken_drawing_is_not_taken(told, road_lead, sign_in):
    history = told(MEMBER)
    client, jo, drive = sign_in(road_lead), history.person("Jo"), history.drives["A"].pk
    bad = client.post("/set/heron-1/hand-over/", {"drives": drive, "person": jo.pk, "signature": "data:image/png;x"})
    assert bad.status_code == 422 and "did not arrive whole" in bad.content.decode()
    unnamed = client.post("/set/heron-1/hand-over/", {"drives": drive, "person": jo.pk, "signature": png()})
    assert unnamed.status_code == 422 and "Write the name" in unnamed.content.decode()
    done(client, "hand-over", drives=drive, person=jo.pk, signed_by="Jo Marlow")
    assert Entry.objects.get(verb=Verb.SIGNED).photo is None


def test_who_is_overdue_comes_first_with_the_deputy_to_ring(told, staff, sign_in):
    history = told("1 blank AB\n1 join AB")
    jo, ana = history.person("Jo"), history.person("Ana")
    Person.objects.filter(pk=jo.pk).update(deputy=Person.objects.create(name="Sil Fenn", phone="+44 20 7946 0009"))
    for name, letter, hours in (("Ana", "A", 48), ("Jo", "B", -1)):
        history.fact(
            Verb.HANDED_OVER, history.drives[letter], place=history.hands(name), person=history.person(name),
            due_at=history.now + timedelta(hours=hours),
        )  # fmt: skip
    found = holders(history.now + timedelta(hours=1))
    assert [(one.person, one.late, one.outside) for one in found] == [(jo, True, True), (ana, False, False)]
    page = sign_in(staff).get("/sets/hands/").content.decode()
    assert "OVERDUE" in page and "Sil Fenn" in page and "+44 20 7946 0009" in page


def test_nobody_holds_anything_is_said(told, staff, sign_in):
    told(MEMBER)
    assert "no drive is in anybody" in sign_in(staff).get("/sets/hands/").content.decode()


def test_the_page_of_holders_costs_the_same_for_many(told, staff, sign_in):
    history = told("1 blank ABCDEF\n1 join ABCDEF\n2 hand A Jo\n2 hand B Ana")
    client = sign_in(staff)
    client.get("/sets/hands/")
    with CaptureQueriesContext(connection) as few:
        client.get("/sets/hands/")
    history.tell("3 hand C Jo\n3 hand D Wes\n3 hand EF Tomas")
    with CaptureQueriesContext(connection) as many:
        client.get("/sets/hands/")
    assert len(many) == len(few)


def test_a_drive_that_was_not_due_goes_to_quarantine_as_foreign(told, road_lead, sign_in):
    history = told(MEMBER + "2 hand A Jo")
    client, jo = sign_in(road_lead), history.person("Jo")
    data = {
        "drives": history.drives["A"].pk,
        "place": history.places["Mill"].pk,
        "giver": jo.pk,
        "others": "99ZZ1\n71B0BK",
    }
    assert "no quarantine shelf" in client.post("/set/heron-1/receive/", data).content.decode()
    assert not Entry.objects.filter(verb=Verb.RECEIVED).exists(), "all of it or nothing"
    shelf = Place.objects.create(name="Q", kind=PlaceKind.SHELF, purpose="quarantine", parent=history.places["Mill"])
    history.drive("B")
    done(client, "receive", **data)
    stranger, known = Item.objects.get(serial="99ZZ1"), history.drives["B"]
    assert stranger.owner == jo.organisation and stranger.holding.place == shelf
    for drive in (stranger, known):
        answer = wipe_answer(drive, history.now + timedelta(hours=2))
        assert answer.answer != "YES" and "foreign" in {reason.word for reason in answer.reasons}
