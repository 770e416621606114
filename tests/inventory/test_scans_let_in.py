"""Who may send scans, in which form, and what no upload may do."""

from __future__ import annotations

import json
from datetime import timedelta
from uuid import uuid4

import pytest
import time_machine
from django.test import Client

from inventory.models import Entry, ScanReceipt, SetAside, Verb
from tests.factories import T0, make_case, make_device
from tests.inventory.uploading import a_scan, answers, code, later, only, send


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel(T0 + timedelta(minutes=1), tick=False) as travelled:
        yield travelled


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
