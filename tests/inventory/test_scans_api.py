"""Every receipt of POST /api/scans/, and what no upload may do."""

from __future__ import annotations

import json
import random
from datetime import timedelta
from uuid import uuid4

import pytest
import time_machine
from django.test import Client

from inventory import ledger, passes
from inventory.accepting import AcceptRefused, accept, decline, waiting
from inventory.models import Entry, Holding, Item, Label, ScanReceipt, SetAside, Verb
from tests.factories import ANA, IDA, T0, make_case, make_case_type, make_device, make_item, make_pass, make_place
from tests.inventory.uploading import a_scan, answers, later, send


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel(T0 + timedelta(minutes=1), tick=False) as travelled:
        yield travelled


@pytest.fixture
def phone(db):
    return make_device()


@pytest.fixture
def case(db) -> Item:
    return make_case()


@pytest.fixture
def teasel(db) -> Item:
    return make_item(make_case_type("7.5 t box", kind="vehicle"), name="Teasel")


def code(item: Item) -> str:
    return item.labels.get().code


def only(scans, token="Pim Osgood", **envelope):
    (answer,) = answers(scans if isinstance(scans, list) else [scans], token, **envelope)
    return answer


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


# Accepting what was held


def test_an_accepted_scan_counts_at_its_own_moment(phone, case, teasel, clock):
    passes.revoke(phone.day_pass, by="Ida Penrake", at=later(minutes=10))
    held = a_scan(code(case), verb="loaded", place=code(teasel), at=later(minutes=20))
    clock.move_to(later(hours=1))
    only(held)
    ledger.record([ledger.Fact(Verb.PLACED, case, place=make_place())], by=IDA, at=later(minutes=40))
    entry = accept(waiting()[0], by=IDA, at=later(hours=2))
    assert (str(entry.pk), entry.happened_at) == (held["id"], later(minutes=20))
    assert Holding.objects.get(item=case).place == make_place()
    assert waiting() == []
    assert only(held)["receipt"] == "held"


def test_a_held_scan_that_another_phone_carried_is_accepted_as_its_makers(phone, case):
    carrier = make_device("Wes Tarn", day_pass=phone.day_pass)
    only(a_scan(code(case), verb="written off", device=str(phone.pk)), token="Wes Tarn")
    entry = accept(waiting()[0], by=IDA, at=later(hours=2))
    assert (entry.device, entry.by, entry.carried_by) == (phone, "Pim Osgood", carrier)


def test_only_a_kit_manager_accepts(phone, case):
    only(a_scan(code(case), verb="written off"))
    with pytest.raises(AcceptRefused, match="kit manager"):
        accept(waiting()[0], by=ANA, at=T0)


def test_an_unreadable_scan_is_accepted_once_its_place_is_known(phone, case):
    place_code = "R7MFXW3"
    assert only(a_scan(code(case), verb="packed", place=place_code))["receipt"] == "unreadable"
    with pytest.raises(AcceptRefused, match="R7MFXW3"):
        accept(waiting()[0], by=IDA, at=later(hours=1))
    crate = make_case("GEN-01", code=place_code)
    accept(waiting()[0], by=IDA, at=later(hours=1))
    assert Entry.objects.get().place == crate.inside


def test_a_declined_scan_stays_kept_and_is_no_entry(phone, case):
    only(a_scan(code(case), verb="written off"))
    decline(waiting()[0], by=IDA, at=T0)
    aside = SetAside.objects.get()
    assert (aside.accepted, aside.settled_by) == (False, "Ida Penrake")
    assert not Entry.objects.exists()
    with pytest.raises(AcceptRefused, match="settled"):
        accept(aside, by=IDA, at=T0)


def test_a_second_body_is_never_accepted(phone, case):
    scan = a_scan(code(case))
    answers([scan, {**scan, "note": "other"}])
    with pytest.raises(AcceptRefused, match="first body"):
        accept(waiting()[0], by=IDA, at=T0)


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


# Time


def test_a_slow_clock_is_put_right_by_its_offset(phone, case, clock):
    slow = timedelta(minutes=47)
    clock.move_to(later(hours=1))
    only(a_scan(code(case), taken_at=(T0 - slow).isoformat(), offset_ms=int(slow.total_seconds() * 1000)))
    entry = Entry.objects.get()
    assert (entry.happened_at, entry.taken_at) == (T0, T0 - slow)


def test_the_phones_own_stamp_wins_over_its_raw_clock(phone, case, clock):
    clock.move_to(later(hours=1))
    only(a_scan(code(case), taken_at=T0.isoformat(), happened_at=later(minutes=5).isoformat()))
    assert Entry.objects.get().happened_at == later(minutes=5)


def test_a_stamp_from_the_future_counts_from_when_it_came_in(phone, case):
    only(a_scan(code(case), at=later(days=2)))
    entry = Entry.objects.get()
    assert entry.happened_at == entry.received_at == later(minutes=1)


def test_a_late_upload_does_not_move_an_item_back(phone, case, teasel, clock):
    clock.move_to(later(hours=3))
    yard = make_place()
    ledger.record([ledger.Fact(Verb.PLACED, case, place=yard)], by=IDA, at=later(hours=2))
    only(a_scan(code(case), verb="loaded", place=code(teasel), at=T0))
    assert Holding.objects.get(item=case).place == yard


def test_the_phone_says_how_its_clock_stands_and_what_it_holds(phone, case):
    only(a_scan(code(case)), sent_at=(T0 - timedelta(minutes=46)).isoformat(), unsent=14)
    phone.refresh_from_db()
    assert (phone.offset_ms, phone.unsent, phone.last_heard_at) == (47 * 60_000, 14, later(minutes=1))


# Splits, orders, two phones


def test_any_split_and_order_of_an_upload_leaves_the_same_ledger(phone, teasel, clock):
    clock.move_to(later(hours=1))
    cases = [make_case(f"HER-{n:02d}") for n in range(1, 9)]
    scans = [
        a_scan(code(case), verb="loaded", place=code(teasel), at=later(seconds=10 * n)) for n, case in enumerate(cases)
    ]
    dice = random.Random(7)
    sent = scans + dice.sample(scans, 4)
    dice.shuffle(sent)
    while sent:
        size = dice.randint(1, 5)
        answers(sent[:size])
        sent = sent[size:]
    assert {str(pk) for pk in Entry.objects.values_list("pk", flat=True)} == {scan["id"] for scan in scans}
    assert Holding.objects.filter(place=teasel.inside).count() == 8


def test_one_id_twice_in_one_upload_is_stored_once(phone, case):
    scan = a_scan(code(case))
    assert [each["receipt"] for each in answers([scan, scan])] == ["stored", "already stored"]


def test_two_phones_on_one_case_are_two_witnesses(phone, case, teasel):
    make_device("Ana Rell", day_pass=phone.day_pass)
    for token in ("Pim Osgood", "Ana Rell"):
        only(a_scan(code(case), verb="loaded", place=code(teasel)), token)
    assert set(Entry.objects.values_list("by", flat=True)) == {"Pim Osgood", "Ana Rell"}


def test_two_phones_may_count_the_same_step_and_so_may_one(phone, case):
    got = answers([a_scan(code(case), device_seq=5), a_scan(code(case), device_seq=5)])
    assert [each["receipt"] for each in got] == ["stored", "stored"]


def test_a_phone_carries_the_scans_of_another_of_its_show(phone, case):
    ana = make_device("Ana Rell", day_pass=phone.day_pass)
    scan = a_scan(code(case))
    assert only({**scan, "device": str(ana.pk)})["receipt"] == "stored"
    entry = Entry.objects.get()
    assert (entry.by, entry.device, entry.carried_by) == ("Ana Rell", ana, phone)
    assert only(scan, "Ana Rell")["receipt"] == "already stored"


def test_carrying_gives_no_phone_the_role_of_an_account(phone, case, kit_manager):
    make_device("Ida Penrake", user=kit_manager.user)
    ida = kit_manager.user.devices.get()
    assert only(a_scan(code(case), verb="written off", device=str(ida.pk)))["receipt"] == "held"
    assert only(a_scan(code(case), verb="written off"), "Ida Penrake")["receipt"] == "stored"


def test_carrying_between_shows_is_held(phone, case):
    other = make_device("Wes Tarn", day_pass=make_pass("CCA"))
    assert only(a_scan(code(case), device=str(other.pk)))["receipt"] == "held"


def test_an_account_of_crew_may_not_write_off(db, case, crew):
    make_device("Wes Tarn", user=crew.user)
    assert only(a_scan(code(case), verb="written off"), "Wes Tarn")["receipt"] == "held"
    assert only(a_scan(code(case)), "Wes Tarn")["receipt"] == "stored"
    assert Entry.objects.get().role == "crew"


def test_staff_and_clients_do_not_scan(db, case, staff, client_person):
    for person in (staff, client_person):
        make_device(person.name, user=person.user)
        assert only(a_scan(code(case)), person.name)["receipt"] == "held"


# Who is let in, and in which form


@pytest.mark.parametrize("token", ["", "guessed"])
def test_a_phone_without_a_known_token_is_told_401_in_json(phone, case, token):
    response = send([a_scan(code(case))], token)
    assert response.status_code == 401
    assert "join again" in response.json()["error"]
    assert not Entry.objects.exists()


def test_a_cookie_does_not_open_the_scans(phone, case):
    client = Client()
    client.cookies["device"] = "Pim Osgood"
    response = client.post("/api/scans/", json.dumps({"scans": [a_scan(code(case))]}), content_type="application/json")
    assert response.status_code == 401


def test_a_signed_in_person_without_a_phone_is_told_401(sign_in, kit_manager):
    assert sign_in(kit_manager).post("/api/scans/", "{}", content_type="application/json").status_code == 401


def test_an_account_that_was_closed_is_told_401(db, case, crew):
    make_device("Wes Tarn", user=crew.user)
    crew.user.is_active = False
    crew.user.save()
    assert send([a_scan(code(case))], "Wes Tarn").status_code == 401


def test_other_methods_are_told_so(phone):
    response = Client().get("/api/scans/", headers={"X-Device-Token": "Pim Osgood"})
    assert (response.status_code, response["Allow"]) == (405, "POST")


NO_UPLOADS = [
    b"",
    b"{",
    b"null",
    b"[]",
    b"7",
    b'"scans"',
    b"{}",
    b'{"scans": null}',
    b'{"scans": {"id": 1}}',
    b'{"scans": [NaN]}',
    b'{"scans": [{"quantity": Infinity}]}',
    b'{"scans": [1,]}',
    b"\xff\xfe\x00",
    b"[" * 50_000,
    b'{"scans": [' + b"9" * 5_000 + b"]}",
    b'{"scans": []} and more',
]


@pytest.mark.parametrize("body", NO_UPLOADS, ids=[repr(body[:24]) for body in NO_UPLOADS])
def test_what_is_no_upload_is_a_400_with_a_sentence(phone, body):
    response = send(body)
    assert response.status_code == 400
    assert response.json()["error"].endswith(".")
    assert not ScanReceipt.objects.exists()


@pytest.mark.parametrize(
    "body", [b'{"scans": ["' + b"x" * 1_000_000 + b'"]}', b'{"scans": [' + b"1," * 500 + b"1]}"], ids=["bytes", "count"]
)
def test_too_much_at_once_is_a_413_with_the_limit(phone, body):
    response = send(body)
    assert response.status_code == 413
    assert "at most" in response.json()["error"]


def test_a_full_upload_of_500_is_taken(phone, case):
    got = answers([a_scan(code(case), at=later(seconds=n)) for n in range(500)])
    assert {each["receipt"] for each in got} == {"stored"}


def test_an_empty_upload_is_heard(phone):
    assert answers([], unsent=3) == []
    phone.refresh_from_db()
    assert phone.unsent == 3


@pytest.mark.parametrize("field", ["sent_at", "offset_ms", "unsent"])
@pytest.mark.parametrize("value", ["nonsense", -1.5, [], {}, True, 10**30])
def test_a_bad_word_about_the_phone_is_remarked_and_the_scans_are_taken(phone, case, field, value):
    response = send([a_scan(code(case))], **{field: value})
    assert response.json()["scans"][0]["receipt"] == "stored"
    assert response.json()["remarks"][0].startswith(field)


BAD_FIELDS = [
    ("id", 7), ("id", "zzz"), ("id", None), ("id", ["x"]), ("id", {}), ("act", "no"), ("act", 1),
    ("verb", "teleported"), ("verb", None), ("verb", 3), ("verb", ["seen"]), ("verb", "amended"), ("verb", "signed"),
    ("code", None), ("code", ""), ("code", 7), ("code", "X" * 41), ("code", "A\u0000B"), ("code", "A\ud800"),
    ("code", "A\u0007B"), ("code", ["A"]), ("place", "place:999999"), ("place", "place:" + "9" * 30), ("place", 4),
    ("place", "nowhere"), ("place", "\u0000"), ("bay", "B" * 21), ("bay", 3), ("drive_set", "no-such-set"),
    ("quantity", -1), ("quantity", 2**31), ("quantity", 1.5), ("quantity", "4"), ("quantity", True), ("mass_g", 0),
    ("mass_g", 10**40), ("seal", "9" * 41), ("serial", "9" * 81), ("condition", "c" * 21), ("note", "n" * 2001),
    ("note", "a\u0000"), ("note", {"a": 1}), ("photo", "p" * 65), ("grade", "hearsay"), ("grade", 1),
    ("rule", "r" * 61), ("value", "v" * 201), ("due_at", "tomorrow"), ("due_at", "2026-03-14T12:00:00"),
    ("taken_at", None), ("taken_at", "12:00"), ("taken_at", "2026-03-14"), ("taken_at", 1_700_000_000),
    ("taken_at", "9999-12-31T23:59:59Z"), ("taken_at", "1066-10-14T09:00:00Z"), ("offset_ms", "0"),
    ("offset_ms", 2**62), ("offset_ms", -(2**62)), ("offset_ms", 2**70), ("happened_at", "x"),
    ("happened_at", "2026-02-30T12:00:00Z"), ("stated", "yes"), ("stated", True), ("device_seq", 0),
    ("device_seq", None), ("device_seq", -3), ("device_seq", 2**63), ("device_seq", "1"), ("device", "x"),
    ("device", "81fe5502-59f4-4f1c-9b1e-3f4b6d9a0c11"), ("reference", "R" * 31), ("corrects", "x"),
    ("corrects", "a369474f-aa3f-40f7-8a25-51d86e0fb2c4"),
    ("favourite_colour", "blue"), ("note", "n" * 20_000),
]  # fmt: skip


@pytest.mark.parametrize(("field", "value"), BAD_FIELDS, ids=[f"{f}={str(v)[:16]!a}" for f, v in BAD_FIELDS])
def test_a_scan_that_cannot_be_read_is_kept_and_says_why(phone, case, field, value):
    scan = {**a_scan(code(case)), field: value}
    answer = only(scan)
    assert answer["receipt"] == "unreadable"
    assert "Kept as it came" in answer["sentence"]
    assert json.loads(SetAside.objects.get().body) == scan
    assert not Entry.objects.exists()


@pytest.mark.parametrize("verb", Verb.values)
def test_a_bare_scan_of_any_verb_is_an_entry_or_kept_and_never_an_error(db, case, kit_manager, verb):
    make_device("Ida Penrake", user=kit_manager.user)
    answer = only(a_scan(code(case), verb=verb), "Ida Penrake")
    stored = Entry.objects.count()
    assert (answer["receipt"], stored) in {("stored", 1), ("unreadable", 0)}


@pytest.mark.parametrize("verb", ["loaded", "missed", "corrected", "consumed", "sealed"])
def test_a_scan_with_every_field_at_once_is_an_entry_or_kept(db, case, kit_manager, verb):
    make_device("Ida Penrake", user=kit_manager.user)
    full = a_scan(
        code(case), verb=verb, place=code(case), bay="A", quantity=3, mass_g=5, seal="004470", serial="71B04K",
        condition="worn", note="x", photo="f" * 64, grade="tick", rule="r", value="v", due_at=T0.isoformat(),
        reference="FMC", corrects=str(uuid4()), act=str(uuid4()),
    )  # fmt: skip
    answer = only(full, "Ida Penrake")
    assert answer["receipt"] in {"stored", "unreadable"}
    assert Entry.objects.count() + SetAside.objects.count() == 1


def test_a_photo_that_has_not_come_in_does_not_hold_the_fact_up(phone, case):
    assert only(a_scan(code(case), verb="faulted", photo="f" * 64))["receipt"] == "stored"
    assert "was not received" in Entry.objects.get().note


def test_the_number_of_queries_does_not_grow_with_the_upload(phone, teasel, django_assert_max_num_queries):
    cases = [make_case(f"HER-{n:02d}") for n in range(1, 31)]
    scans = [a_scan(code(case), verb="loaded", place=code(teasel)) for case in cases]
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    counts = []
    for few in (scans[:3], scans[3:23]):  # SQLite takes 999 values at once: 26 entries
        with CaptureQueriesContext(
            connection,
        ) as ran:
            answers(few)
        counts.append(len(ran))
    assert counts[0] == counts[1]
