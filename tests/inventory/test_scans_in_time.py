"""Slow clocks, late uploads, splits, and phones that carry for each other."""

from __future__ import annotations

import random
from datetime import timedelta

import pytest
import time_machine

from inventory import ledger
from inventory.models import Entry, Holding, Verb
from tests.factories import IDA, T0, make_case, make_device, make_pass, make_place
from tests.inventory.uploading import a_scan, answers, code, later, only


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel(T0 + timedelta(minutes=1), tick=False) as travelled:
        yield travelled


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
