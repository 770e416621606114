"""Eight phones at once: everything lands once, and nobody meets a locked database."""

from __future__ import annotations

from datetime import timedelta

import pytest
import time_machine

from inventory.models import Entry, Holding, ScanReceipt
from tests.factories import T0, make_case, make_case_type, make_device, make_item, make_pass
from tests.filed import in_threads, on_file
from tests.inventory.uploading import a_scan, later, send

PHONES, SCANS = 8, 6


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel(T0 + timedelta(minutes=5), tick=False):
        yield


@pytest.fixture
def load(transactional_db):
    day_pass = make_pass()
    names = [f"Pusher {n}" for n in range(PHONES)]
    for name in names:
        make_device(name, day_pass=day_pass)
    teasel = make_item(make_case_type("7.5 t box", kind="vehicle"), name="Teasel")
    codes = [make_case(f"HER-{n:02d}").labels.get().code for n in range(1, PHONES * SCANS + 1)]
    return names, teasel.labels.get().code, codes


def one_by_one(name, scans):
    return lambda: [send([scan], name).json()["scans"][0]["receipt"] for scan in scans]


def test_eight_phones_scan_at_once_and_every_scan_is_stored_once(load, tmp_path):
    names, teasel, codes = load
    scans = [a_scan(code, verb="loaded", place=teasel, at=later(seconds=n)) for n, code in enumerate(codes)]
    jobs = [one_by_one(name, scans[n::PHONES]) for n, name in enumerate(names)]
    with on_file(tmp_path):
        got = in_threads(jobs)
        assert got == [["stored"] * SCANS] * PHONES
        assert in_threads([lambda: (Entry.objects.count(), Holding.objects.count())]) == [(48, 48)]
        assert in_threads(jobs) == [["already stored"] * SCANS] * PHONES


def test_eight_phones_on_one_case_are_eight_entries_and_one_place(load, tmp_path):
    names, teasel, codes = load
    jobs = [one_by_one(name, [a_scan(codes[0], verb="loaded", place=teasel)]) for name in names]
    with on_file(tmp_path):
        assert in_threads(jobs) == [["stored"]] * PHONES
        assert in_threads([lambda: (Entry.objects.count(), Holding.objects.count())]) == [(8, 1)]


def test_one_phone_with_two_tabs_sends_everything_once(load, tmp_path):
    names, teasel, codes = load
    scans = [a_scan(code, verb="loaded", place=teasel, at=later(seconds=n)) for n, code in enumerate(codes[:10])]

    def tab():
        return [each["receipt"] for each in send(scans, names[0]).json()["scans"]]

    with on_file(tmp_path):
        got = in_threads([tab, tab])
        assert sorted(set(got[0] + got[1])) == ["already stored", "stored"]
        assert in_threads([lambda: (Entry.objects.count(), ScanReceipt.objects.count())]) == [(10, 10)]


def test_many_phones_meet_one_unknown_code_at_once(load, tmp_path):
    names, _, _ = load
    with on_file(tmp_path):
        got = in_threads([one_by_one(name, [a_scan("NEVERSEEN9")]) for name in names])
        assert got == [["unknown code"]] * PHONES


def test_a_scan_carried_and_sent_at_the_same_moment_is_one_entry(load, tmp_path):
    names, _, codes = load
    from inventory.models import Device

    maker = str(Device.objects.get(name=names[0]).pk)
    scan = a_scan(codes[0])
    carried = {**scan, "device": maker}
    jobs = [one_by_one(names[0], [scan]), *(one_by_one(name, [carried]) for name in names[1:])]
    with on_file(tmp_path):
        got = [receipt for (receipt,) in in_threads(jobs)]
        assert sorted(got) == ["already stored"] * 7 + ["stored"]
