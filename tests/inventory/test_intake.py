"""Uploads that wait at the same moment are taken in one transaction, and each is answered as if it were alone."""

from __future__ import annotations

import json
from datetime import timedelta

import pytest
from django.db import DatabaseError

from inventory import intake, scanning
from inventory.models import Device, Entry, Holding, ScanReceipt, SetAside
from inventory.scanning import Delivery
from inventory.uploads import read_upload
from tests.factories import T0, make_case, make_device, make_pass, make_place
from tests.inventory.uploading import a_scan, code, later

AT = T0 + timedelta(minutes=5)


@pytest.fixture
def phones(db):
    day_pass = make_pass()
    return [make_device(name, day_pass=day_pass) for name in ("Pim Osgood", "Ana Rell", "Wes")]


@pytest.fixture
def case(db):
    return make_case("HER-03")


@pytest.fixture
def together(monkeypatch):
    """How many uploads each transaction took."""
    counted = []

    def count(deliveries):
        counted.append(len(deliveries))
        return scanning.receive_new(deliveries)

    monkeypatch.setattr(intake, "receive_new", count)
    return counted


def delivery(device: Device, *scans: dict[str, object], at=AT) -> Delivery:
    return Delivery(read_upload(json.dumps({"scans": scans}).encode(), received_at=at), device, at)


def waiting(*deliveries: Delivery) -> list[intake._Turn]:
    """Threads that came while another held the door."""
    turns = [intake._Turn(one) for one in deliveries]
    intake._waiting.extend(turns)
    return turns


def receipts(answers):
    return [one.receipt for one in answers]


def test_who_comes_next_takes_what_waits_in_one_transaction(phones, case, together):
    pim, ana, wes = phones
    turns = waiting(delivery(pim, a_scan(code(case))), delivery(ana, a_scan(code(case)), a_scan(code(case))))
    assert receipts(intake.take(delivery(wes, a_scan(code(case))))) == ["stored"]
    assert [receipts(turn.answers) for turn in turns] == [["stored"], ["stored", "stored"]]
    assert together == [3] and not intake._waiting
    by = Entry.objects.order_by("id").values_list("device__name", "by")
    assert sorted(by) == [("Ana Rell", "Ana Rell")] * 2 + [("Pim Osgood", "Pim Osgood"), ("Wes", "Wes")]
    assert {row.device_id for row in ScanReceipt.objects.all()} == {phone.pk for phone in phones}
    assert set(Device.objects.values_list("last_heard_at", flat=True)) == {AT}


def test_no_more_go_together_than_one_upload_may_well_hold(phones, case, together, monkeypatch):
    monkeypatch.setattr(intake, "MOST", 3)
    pim, ana, wes = phones
    waiting(
        delivery(pim, a_scan(code(case)), a_scan(code(case))), delivery(ana, a_scan(code(case)), a_scan(code(case)))
    )
    assert receipts(intake.take(delivery(wes, a_scan(code(case))))) == ["stored"]
    assert together == [2] and Entry.objects.count() == 5  # the first alone, then two uploads of three scans


def test_a_repeat_among_them_is_told_so_and_the_others_are_stored(phones, case):
    pim, ana, wes = phones
    old = a_scan(code(case))
    intake.take(delivery(pim, old))
    turns = waiting(delivery(ana, a_scan(code(case))), delivery(pim, old))
    assert receipts(intake.take(delivery(wes, a_scan(code(case))))) == ["stored"]
    assert [receipts(turn.answers) for turn in turns] == [["stored"], ["already stored"]]
    assert Entry.objects.count() == ScanReceipt.objects.count() == 3


def test_one_id_from_two_phones_at_once_is_one_entry(phones, case):
    pim, ana, _ = phones
    scan = a_scan(code(case))
    (turn,) = waiting(delivery(pim, scan))
    carried = {**scan, "device": str(pim.pk)}
    assert receipts(intake.take(delivery(ana, carried, {**scan, "note": "other words"}))) == [
        "already stored",
        "id reused",
    ]
    assert receipts(turn.answers) == ["stored"] and Entry.objects.count() == 1
    assert SetAside.objects.get().device == ana


def test_each_keeps_aside_its_own_unreadable_text(phones):
    pim, ana, _ = phones
    torn = {"id": "no id at all"}
    waiting(delivery(pim, torn))
    intake.take(delivery(ana, torn))
    assert set(SetAside.objects.values_list("device", "why")) == {(pim.pk, "unreadable"), (ana.pk, "unreadable")}


def test_what_one_was_put_is_already_done_for_the_next(phones, case):
    pim, ana, _ = phones
    mill = f"place:{make_place('Mill Yard').pk}"
    (turn,) = waiting(delivery(pim, a_scan(code(case), verb="placed", place=mill, at=later(seconds=30))))
    (late,) = intake.take(delivery(ana, a_scan(code(case), verb="placed", place=mill, at=later(seconds=60))))
    assert turn.answers[0].says == "good" and late.says == "already done"
    assert Holding.objects.get(item=case).entry.by == "Ana Rell"


def test_a_failure_of_one_is_raised_where_it_was_brought(phones, case, monkeypatch):
    pim, ana, _ = phones
    bad = delivery(pim, a_scan(code(case)))

    def breaks(deliveries):
        if bad in deliveries:
            raise DatabaseError("disk full")
        return scanning.receive_new(deliveries)

    monkeypatch.setattr(intake, "receive_new", breaks)
    monkeypatch.setattr(intake, "receive", lambda upload, device, at: breaks([Delivery(upload, device, at)])[0])
    (turn,) = waiting(delivery(ana, a_scan(code(case))))
    with pytest.raises(DatabaseError, match="disk full"):
        intake.take(bad)
    assert receipts(turn.answers) == ["stored"] and Entry.objects.count() == 1
