"""The list a phone keeps, and the token its scans are sent under."""

from __future__ import annotations

import json
from datetime import timedelta

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from inventory import ledger, passes
from inventory.access import COOKIE, token_hash
from inventory.ledger import Fact
from inventory.models import DayPass, Device, Kind, Verb
from shipping.loading import settle_dispute
from tests.factories import (
    ANA,
    IDA,
    T0,
    make_case,
    make_device,
    make_item,
    make_leg,
    make_pass,
    make_type,
    make_vehicle,
)
from tests.inventory.uploading import a_scan, answers


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel(T0 + timedelta(minutes=1), tick=False) as travelled:
        yield travelled


@pytest.fixture
def teasel(db):
    return make_vehicle()


def fetch(token="Pim Osgood"):
    return Client().get("/api/day/", headers={"X-Device-Token": token})


def listed(token="Pim Osgood"):
    answer = fetch(token)
    assert answer.status_code == 200, answer.content
    return answer.json()


def by_number(day):
    return {case["number"]: case for case in day["cases"]}


def test_a_phone_on_a_pass_gets_its_shows_cases_and_where_they_go(teasel):
    leg = make_leg([make_case("HER-05")], teasel)
    make_device()
    day = listed()
    assert (day["person"], day["pass"]["show"], day["made_at"]) == ("Pim Osgood", "FMC", "2026-03-14T12:01:00+00:00")
    case = by_number(day)["HER-05"]
    inside = f"place:{teasel.inside.pk}"
    assert (case["leg"], case["legs"], case["load_place"]) == (leg.pk, [leg.pk], inside)
    assert case["leg_words"] == "on Teasel"
    assert day["legs"][0] | {"load_verb": "loaded", "load_place": inside, "phase": "loading"} == day["legs"][0]


def test_a_case_of_no_leg_of_the_show_is_only_named(teasel):
    make_leg([make_case("HER-05")], teasel)
    make_case("CUR-05")
    make_device()
    other = by_number(listed())["CUR-05"]
    assert (other["load_place"], other["leg_words"]) == ("nowhere", "on no vehicle of FMC by the list")
    assert not {"kg", "seal", "done_place", "name"} & set(other)


def test_the_list_says_where_a_thing_was_put_last(teasel):
    case = make_case("HER-05")
    make_leg([case], teasel)
    make_device()
    ledger.record([Fact(Verb.LOADED, case, place=teasel.inside)], by=IDA, at=T0)
    row = by_number(listed())["HER-05"]
    assert (row["done_place"], row["done_by"]) == (f"place:{teasel.inside.pk}", IDA.name)


def test_a_leg_is_at_the_stage_that_the_ledger_says(teasel):
    leg = make_leg([make_case("HER-05")], teasel)
    make_device()
    go = Fact(Verb.DEPARTED, teasel, place=leg.road, reference="FMC")
    ledger.record([go], by=IDA, at=T0)
    assert listed()["legs"][0]["phase"] == "on the road"
    ledger.record([Fact(Verb.ARRIVED, teasel, place=leg.to_place, reference="FMC")], by=IDA, at=T0)
    assert listed()["legs"][0]["phase"] == "arrived"


def test_a_case_that_stayed_when_its_leg_left_says_so_until_it_is_put_elsewhere(teasel, clock):
    gone, stayed = make_case("HER-05"), make_case("HER-06")
    leg = make_leg([gone, stayed], teasel)
    make_device()
    ledger.record([Fact(Verb.LOADED, gone, place=teasel.inside)], by=IDA, at=T0 - timedelta(minutes=2))
    ledger.record([Fact(Verb.PLACED, stayed, place=leg.from_place)], by=IDA, at=T0 - timedelta(minutes=2))

    def behind():
        cases = by_number(listed())
        return [number for number in ("HER-05", "HER-06") if cases[number]["behind"] == [leg.pk]]

    assert behind() == []
    ledger.record([Fact(Verb.DEPARTED, teasel, place=leg.road, reference="FMC")], by=ANA, at=T0)
    assert behind() == ["HER-06"]
    ledger.record([Fact(Verb.UNLOADED, gone, place=leg.to_place)], by=ANA, at=T0 + timedelta(seconds=30))
    ledger.record([Fact(Verb.UNLOADED, stayed, place=leg.to_place)], by=ANA, at=T0 + timedelta(seconds=30))
    assert behind() == []


def test_a_case_that_came_off_stays_off_though_it_goes_on_again(teasel, clock):
    """In another room than where the leg ends, or on the vehicle for the next way: counted off all the same."""
    first, second = make_case("HER-05"), make_case("HER-06")
    leg = make_leg([first, second], teasel)
    make_device()
    seconds = [T0 + timedelta(seconds=n) for n in range(5)]
    put = [Fact(Verb.LOADED, case, place=teasel.inside) for case in (first, second)]
    ledger.record(put, by=IDA, at=T0 - timedelta(minutes=2))
    for verb, place, at in ((Verb.DEPARTED, leg.road, seconds[0]), (Verb.ARRIVED, leg.to_place, seconds[1])):
        ledger.record([Fact(verb, teasel, place=place, reference="FMC")], by=ANA, at=at)
    assert [by_number(listed())[number]["off"] for number in ("HER-05", "HER-06")] == [[], []]
    ledger.record([Fact(Verb.PLACED, first, place=leg.from_place)], by=ANA, at=seconds[2])
    ledger.record([Fact(Verb.LOADED, second, place=teasel.inside)], by=ANA, at=seconds[3])
    assert [by_number(listed())[number]["off"] for number in ("HER-05", "HER-06")] == [[leg.pk], [leg.pk]]


def test_a_case_without_a_vehicle_stayed_unless_it_is_on_its_way(db):
    gone, stayed = make_case("HER-05"), make_case("HER-06")
    leg = make_leg([gone, stayed])
    make_device()
    ledger.record([Fact(Verb.DEPARTED, gone, place=leg.road, reference="FMC")], by=ANA, at=T0)
    cases = by_number(listed())
    assert (cases["HER-05"]["behind"], cases["HER-06"]["behind"]) == ([], [leg.pk])


@pytest.mark.parametrize("discreet,name", [(True, ""), (False, "Fjellmark Masters Chess")])
def test_a_discreet_show_is_not_named(teasel, discreet, name):
    leg = make_leg([make_case("HER-05")], teasel)
    leg.consignment.show.discreet = discreet
    leg.consignment.show.save(update_fields=["discreet"])
    make_device()
    assert listed()["pass"]["show_name"] == name


def test_a_stranger_gets_no_list(db):
    assert Client().get("/api/day/").status_code == 401
    assert fetch("no such token").status_code == 401


def test_a_pass_that_is_over_gets_no_list(teasel):
    make_leg([make_case("HER-05")], teasel)
    passes.revoke(make_device().day_pass, by="Ida Penrake", at=T0)
    assert fetch().status_code == 401


def test_the_list_costs_as_many_queries_for_many_cases(teasel):
    drives = make_type("Ingot 4T", kind=Kind.DRIVE)

    def cost(numbers):
        cases = [make_case(number, home_system=None) for number in numbers]
        for case in cases:
            make_item(drives, serial=f"71B{case.pk}", home_case=case)
        make_leg(cases, teasel)
        with CaptureQueriesContext(
            connection,
        ) as counted:
            listed()
        return len(counted)

    make_device()
    few = cost(["HER-01", "HER-02"])
    assert cost([f"CUR-{n:02}" for n in range(1, 12)]) <= few


def load(number, vehicle, who, **more):
    """One phone's scan of a case onto a vehicle."""
    place = vehicle.labels.first().code
    return answers([a_scan(number, verb="loaded", place=place, reference="FMC", **more)], who)


def test_a_case_on_two_vehicles_carries_both_stories_until_somebody_looked(teasel, clock):
    """The newer first. A case of another show, with two stories of its own, is still only named."""
    case, stranger, meadowrue = make_case("HER-07"), make_case("CUR-07"), make_vehicle("Meadowrue")
    make_leg([case], teasel)
    make_device("Ana Rell", day_pass=make_device("Pim Osgood").day_pass)
    for number in ("HER-07", "CUR-07"):
        load(number, teasel, "Ana Rell")
    assert by_number(listed())["HER-07"]["others"] == []
    clock.move_to(T0 + timedelta(minutes=10))
    for number in ("HER-07", "CUR-07"):
        load(number, meadowrue, "Pim Osgood", at=T0 + timedelta(minutes=6))
    day = by_number(listed())
    assert day["HER-07"]["others"] == [
        {"place": f"place:{meadowrue.inside.pk}", "words": "Meadowrue by Pim Osgood at 12:06"},
        {"place": f"place:{teasel.inside.pk}", "words": "Teasel by Ana Rell at 12:00"},
    ]
    assert "others" not in day[stranger.number] and day[stranger.number]["legs"] == []
    settle_dispute(case, teasel.inside, reference="FMC", by=ANA, at=T0 + timedelta(minutes=9))
    assert by_number(listed())["HER-07"]["others"] == []


def test_another_seal_than_ours_is_told_until_the_case_is_sealed_again(teasel):
    case = make_case("HER-12")
    make_leg([case], teasel)
    make_device()

    def told(second, verb, number):
        ledger.record([Fact(verb, case, seal=number, grade="scan")], by=ANA, at=T0 + timedelta(seconds=second))
        row = by_number(listed())["HER-12"]
        return row["seal"], row["seal_read"]

    assert told(1, Verb.SEALED, "004418") == ("004418", None)
    assert told(2, Verb.SEEN, "004418") == ("004418", None)
    read = {"was": "004418", "number": "004481", "by": "Ana Rell", "on": "14 Mar"}
    assert told(3, Verb.SEEN, "004481") == ("", read)
    assert told(4, Verb.SEALED, "004490") == ("004490", None)
    assert told(5, Verb.SEAL_BROKEN, "004490") == ("", None)


# The phone's own token


def join(client, **headers):
    return client.post("/scan/phone/", headers=headers)


def phone_of(client):
    answer = join(client)
    assert answer.status_code == 200, answer.content
    return answer.json()


def with_cookie(token="Pim Osgood"):
    client = Client()
    client.cookies[COOKIE] = token
    return client


def test_a_browser_that_joined_by_the_form_gets_its_own_token(db):
    device = make_device()
    phone = phone_of(with_cookie())
    assert (phone["device"], phone["token"], phone["name"]) == (str(device.pk), "Pim Osgood", "Pim Osgood")
    assert (phone["reference"], phone["verbs"]) == ("FMC", sorted(device.day_pass.allowed_verbs))


def test_a_browser_whose_store_is_gone_becomes_a_new_phone_that_counts_from_one(db):
    device = make_device()
    answers([a_scan("K7MFXW3", device_seq=1)])
    phone = phone_of(with_cookie())
    assert phone["device"] != str(device.pk)
    new = Device.objects.get(pk=phone["device"])
    assert (new.name, new.day_pass, new.token_hash) == ("Pim Osgood", device.day_pass, token_hash(phone["token"]))


def test_an_account_gets_a_phone_without_a_pass(crew, sign_in):
    client = sign_in(crew)
    phone = phone_of(client)
    assert (phone["name"], phone["verbs"], phone["reference"]) == ("Wes Tarn", None, "")
    assert phone_of(client)["device"] == phone["device"]


@pytest.mark.parametrize("person", ["staff", "client_person"])
def test_who_does_not_scan_gets_no_phone(request, sign_in, person):
    assert join(sign_in(request.getfixturevalue(person))).status_code == 403


def test_no_phone_for_a_stranger_or_a_pass_that_is_over(db):
    assert join(Client()).status_code == 403
    passes.revoke(make_device().day_pass, by="Ida Penrake", at=T0)
    refused = join(with_cookie())
    assert refused.status_code == 403
    assert "ended by Ida Penrake" in refused.json()["error"]


def test_another_site_cannot_ask_for_the_token(db):
    make_device()
    client = Client(enforce_csrf_checks=True)
    client.cookies[COOKIE] = "Pim Osgood"
    assert join(client).status_code == 403
    word = client.get("/scan/phone/").json()["csrf"]
    assert join(client, **{"X-CSRFToken": word}).status_code == 200


def test_joining_for_a_page_that_sends_by_itself(db):
    code = make_pass().code
    answer = Client().post(f"/join/{code}/", {"name": "Pim Osgood"}, headers={"Accept": "application/json"})
    assert json.loads(answer.content)["name"] == "Pim Osgood"
    assert listed(answer.json()["token"])["person"] == "Pim Osgood"


# The page and its worker


def test_the_worker_keeps_every_file_of_the_page_and_nothing_of_anybody(db):
    worker = Client().get("/scan/sw.js")
    assert worker["Content-Type"].startswith("text/javascript")
    assert worker["Cache-Control"] == "no-cache"
    text = worker.content.decode()
    for name in ("scan/page.js", "scan/screens/giving.js", "scan/scan.css", "zxing_reader.wasm", "app.css"):
        assert name in text
    assert Client().get("/scan/").content == with_cookie().get("/scan/").content


def test_another_byte_of_the_page_is_another_version(monkeypatch):
    from shipping.views import scan

    before = scan._version()
    monkeypatch.setattr(scan, "_shell", lambda: "another page")
    assert scan._version() != before


def test_a_list_that_a_phone_has_is_not_sent_again(teasel, clock):
    make_leg([make_case("HER-05")], teasel)
    make_device()
    first = fetch()
    mark = first["ETag"]
    assert first.json()["digest"] == mark.strip('"')
    clock.shift(90)
    again = Client().get("/api/day/", headers={"X-Device-Token": "Pim Osgood", "If-None-Match": mark})
    assert (again.status_code, again.content, again["ETag"]) == (304, b"", mark)
    assert again["X-Made-At"] == "2026-03-14T12:02:30+00:00"


def test_a_list_that_reads_differently_is_sent(teasel):
    leg = make_leg([make_case("HER-05")], teasel)
    make_device()
    make_device("Ana Rell", day_pass=DayPass.objects.get())
    mark = fetch()["ETag"]
    assert fetch("Ana Rell")["ETag"] != mark
    leg.consignment.cases.create(case=make_case("HER-06"), position=2)
    changed = Client().get("/api/day/", headers={"X-Device-Token": "Pim Osgood", "If-None-Match": mark})
    assert changed.status_code == 200
    assert "HER-06" in {case["number"] for case in changed.json()["cases"]}


def test_what_is_no_question_for_the_list_gets_a_sentence(teasel):
    make_device()
    answer = Client(enforce_csrf_checks=True).post("/api/day/", headers={"X-Device-Token": "Pim Osgood"})
    assert (answer.status_code, answer["Allow"]) == (405, "GET, HEAD")
    assert answer.json() == {"error": "Ask for the list by GET."}
