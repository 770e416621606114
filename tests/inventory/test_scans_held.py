"""Scans kept for a kit manager: accepted at their own moment, or declined and still kept."""

from __future__ import annotations

from datetime import timedelta

import pytest
import time_machine

from inventory import ledger, passes
from inventory.accepting import AcceptRefused, accept, decline, waiting
from inventory.models import Entry, Holding, SetAside, Verb
from tests.factories import ANA, IDA, T0, make_case, make_device, make_place
from tests.inventory.uploading import a_scan, answers, code, later, only


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel(T0 + timedelta(minutes=1), tick=False) as travelled:
        yield travelled


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
