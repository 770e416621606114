"""Every receipt of POST /api/scans/, and what a scan is told."""

from __future__ import annotations

import json
from datetime import timedelta

import pytest
import time_machine

from inventory import ledger, passes
from inventory.models import Entry, Label, SetAside, Verb
from tests.factories import IDA, T0, make_case, make_device, make_item, make_place
from tests.inventory.uploading import a_scan, answers, code, later, only, send


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel(T0 + timedelta(minutes=1), tick=False) as travelled:
        yield travelled


# The receipts, one by one


def test_a_good_scan_is_stored(phone, case, teasel):
    answer = only(a_scan(code(case), verb="loaded", place=code(teasel)))
    assert (answer["receipt"], answer["says"]) == ("stored", "good")
    assert answer["sentence"] == "HER-04 on Teasel."
    entry = Entry.objects.get()
    assert (entry.verb, entry.label.item, entry.place) == ("loaded", case, teasel.inside)
    assert (entry.by, entry.role, entry.device, entry.reference) == ("Pim Osgood", "crew", phone, "FMC")


def test_a_repeat_is_already_stored_and_changes_nothing(phone, case):
    scan = a_scan(code(case))
    first = only(scan)
    again = only(scan)
    assert (first["receipt"], again["receipt"]) == ("stored", "already stored")
    assert (first["says"], first["sentence"]) == (again["says"], again["sentence"])
    assert Entry.objects.count() == 1


def test_a_repeat_gets_the_same_words_though_the_world_changed(phone, case, teasel, clock):
    scan = a_scan(code(case), verb="loaded", place=code(teasel))
    first = only(scan)
    ledger.record([ledger.Fact(Verb.PLACED, case, place=make_place())], by=IDA, at=later(hours=1))
    passes.revoke(phone.day_pass, by="Ida Penrake", at=later(hours=1))
    clock.move_to(later(hours=2))
    assert only(scan) == {**first, "receipt": "already stored"}


def test_a_second_body_under_one_id_is_kept_aside_and_the_first_stands(phone, case):
    scan = a_scan(code(case), note="by the door")
    only(scan)
    second = {**scan, "note": "on the ramp"}
    assert only(second)["receipt"] == "id reused"
    assert Entry.objects.get().note == "by the door"
    assert json.loads(SetAside.objects.get(why="id reused").body) == second
    assert only(scan)["receipt"] == "already stored"


def test_a_reused_id_sent_twice_is_kept_once(phone, case):
    scan = a_scan(code(case))
    only(scan)
    for _ in range(2):
        only({**scan, "note": "other words"})
    assert SetAside.objects.count() == 1


def test_the_same_body_with_its_fields_in_another_order_is_a_repeat(phone, case):
    scan = a_scan(code(case))
    only(scan)
    assert only(dict(reversed(scan.items())))["receipt"] == "already stored"


def test_an_id_used_at_the_desk_is_reused_by_a_phone(phone, case):
    entry = ledger.record([ledger.Fact(Verb.SEEN, case)], by=IDA, at=T0)[0]
    assert only(a_scan(code(case), id=str(entry.pk)))["receipt"] == "id reused"
    assert SetAside.objects.count() == 1


def test_an_unknown_code_is_kept_with_its_entry(phone):
    answer = only(a_scan("NEVERSEEN9"))
    assert (answer["receipt"], answer["says"]) == ("unknown code", "unknown")
    label = Label.objects.get(code="NEVERSEEN9")
    assert (label.kind, label.item) == ("unknown", None)
    assert Entry.objects.get().label == label


def test_an_unknown_code_stays_unknown_to_a_repeat_after_it_was_adopted(phone, case):
    scan = a_scan("NEVERSEEN9")
    only(scan)
    ledger.adopt(Label.objects.get(code="NEVERSEEN9"), case, at=T0)
    assert only(scan)["receipt"] == "unknown code"
    assert only(a_scan("NEVERSEEN9"))["receipt"] == "stored"


def test_a_code_read_wrong_says_to_scan_again(phone, case):
    whole = code(case)
    wrong = whole[:-1] + ("A" if whole[-1] != "A" else "C")
    answer = only(a_scan(wrong))
    assert answer["receipt"] == "unknown code"
    assert "Scan it again" in answer["sentence"]


def test_an_unreadable_scan_is_kept_to_the_letter(phone):
    body = '{"scans": [ {"id":"not one" , "verb" : "seen"} ]}'
    response = send(body)
    assert response.status_code == 200
    assert response.json()["scans"][0]["receipt"] == "unreadable"
    assert SetAside.objects.get().body == '{"id":"not one" , "verb" : "seen"}'


def test_an_unreadable_scan_sent_again_is_kept_once(phone):
    for scan in (a_scan("X", verb="teleported"), a_scan("X", id="nonsense")):
        assert [only(scan)["receipt"], only(scan)["receipt"]] == ["unreadable", "unreadable"]
    assert SetAside.objects.count() == 2


def test_one_bad_scan_does_not_touch_its_neighbours(phone, case):
    got = answers([a_scan(code(case)), a_scan(code(case), verb="teleported"), "no object", a_scan(code(case))])
    assert [each["receipt"] for each in got] == ["stored", "unreadable", "unreadable", "stored"]
    assert [each["position"] for each in got] == [0, 1, 2, 3]


def test_a_scan_after_the_pass_was_ended_is_held(phone, case, clock):
    passes.revoke(phone.day_pass, by="Ida Penrake", at=later(minutes=30))
    clock.move_to(later(hours=2))
    before, after = a_scan(code(case), at=later(minutes=29)), a_scan(code(case), at=later(minutes=31))
    got = answers([before, after])
    assert [each["receipt"] for each in got] == ["stored", "held"]
    assert "ended by Ida Penrake" in got[1]["sentence"]
    assert str(Entry.objects.get().pk) == before["id"]


@pytest.mark.parametrize("hours", [-7, 67])
def test_a_scan_outside_the_hours_of_the_pass_is_held(phone, case, clock, hours):
    clock.move_to(later(hours=100))
    assert only(a_scan(code(case), at=later(hours=hours)))["receipt"] == "held"


def test_a_late_upload_from_inside_the_hours_is_stored(phone, case, clock):
    clock.move_to(later(days=30))
    assert only(a_scan(code(case), at=T0))["receipt"] == "stored"


def test_after_thirty_days_the_phone_is_told_to_keep_its_scans(phone, case, clock):
    clock.move_to(phone.day_pass.valid_until + timedelta(days=30))
    response = send([a_scan(code(case))])
    assert response.status_code == 401
    assert "Keep the scans" in response.json()["error"]


@pytest.mark.parametrize("verb", ["written off", "declared blank", "content given", "broken up"])
def test_a_verb_that_the_pass_does_not_cover_is_held(phone, case, verb):
    from tests.factories import make_set

    make_set("HERON-1")
    answer = only(a_scan(code(case), verb=verb, drive_set="heron-1"))
    assert answer["receipt"] == "held"
    assert not Entry.objects.exists()


def test_a_pass_scans_for_its_own_show_only(phone, case):
    assert only(a_scan(code(case), reference="CCA"))["receipt"] == "held"
    assert only(a_scan(code(case), reference="FMC"))["receipt"] == "stored"


def test_a_pass_may_always_take_back_its_own_act(phone, case):
    scan = a_scan(code(case))
    only(scan)
    undo = a_scan("", verb="corrected", corrects=scan["id"])
    assert only(undo)["receipt"] == "stored"


def test_a_held_scan_is_held_for_every_repeat_and_kept_once(phone, case):
    scan = a_scan(code(case), verb="written off")
    assert [only(scan)["receipt"], only(scan)["receipt"]] == ["held", "held"]
    assert SetAside.objects.count() == 1


# What it says


def test_it_says_already_done_by_whom_and_when(phone, case, teasel, clock):
    make_device("Ana Rell", day_pass=phone.day_pass)
    only(a_scan(code(case), verb="loaded", place=code(teasel)), "Ana Rell")
    clock.move_to(later(minutes=9))
    answer = only(a_scan(code(case), verb="loaded", place=code(teasel), at=later(minutes=8)))
    assert answer["says"] == "already done"
    assert answer["sentence"] == "HER-04: already on Teasel at 12:00 by Ana Rell."


@pytest.mark.parametrize("together", [True, False])
def test_a_trigger_that_bounced_is_told_the_same_twice(phone, case, teasel, clock, together):
    twice = [a_scan(code(case), verb="loaded", place=code(teasel), at=later(seconds=seconds)) for seconds in (0, 2.9)]
    got = answers(twice) if together else [only(scan) for scan in twice]
    assert [each["says"] for each in got] == ["good", "good"]


def test_a_second_scan_after_three_seconds_is_already_done(phone, case, teasel):
    twice = [a_scan(code(case), verb="loaded", place=code(teasel), at=later(seconds=seconds)) for seconds in (0, 3.1)]
    assert [each["says"] for each in answers(twice)] == ["good", "already done"]


def test_it_says_wrong_for_a_thing_whose_home_is_another_case(phone, case):
    other = make_case("HER-03")
    cord = make_item(home_case=other)
    answer = only(a_scan(code(cord), verb="packed", place=code(case)))
    assert (answer["receipt"], answer["says"]) == ("stored", "wrong")
    assert "goes in HER-03" in answer["sentence"]


def test_a_number_typed_names_the_case(phone, case, teasel):
    assert only(a_scan("her-04", verb="loaded", place=code(teasel)))["receipt"] == "stored"
    assert Entry.objects.get().label.item == case


def test_an_address_scanned_names_its_code(phone, case):
    assert only(a_scan(f"https://gear.example.org/t/{code(case).lower()}"))["receipt"] == "stored"
