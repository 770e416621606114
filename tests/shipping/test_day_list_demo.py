"""The list of tonight's load-out, as Pim's phone and an account's phone get it."""

from __future__ import annotations

import pytest
from django.test import Client

from shipping.daylist import day_list
from shipping.demo.loading import PIM_TOKEN
from tests.factories import T0


def fetch():
    return Client().get("/api/day/", headers={"X-Device-Token": PIM_TOKEN})


def test_the_list_of_the_demo_tells_no_values_and_no_clients(tonight):
    answer = fetch()
    assert answer.status_code == 200
    text = answer.content.decode()
    for secret in ("Glasswright Trust", "replacement", "GBP", "cost", "Marlow"):
        assert secret not in text


def test_a_sisters_drive_and_panel_are_named_and_not_placed(tonight):
    day = fetch().json()
    strangers = [drive for drive in day["drives"] if drive["set"] == "CURLEW-2"]
    assert {drive["bay"] for drive in strangers} == set("ABCDEF")
    assert {(drive["done_place"], drive["serial"]) for drive in strangers} == {("", "")}
    assert sorted(item["system"] for item in day["items"] if item["twin"]) == ["Curlew", "Heron"]


def test_the_bays_name_the_drives_due_in_them(tonight):
    bays = fetch().json()["bays"]
    assert [bay["bay"] for bay in bays] == list("ABCDEF")
    due = {drive["code"]: drive for drive in fetch().json()["drives"]}
    for bay in bays:
        assert bay["sets"] == ["HERON-1", "HERON-2"]
        assert {due[code]["bay"] for code in bay["expects"]} == {bay["bay"]}


def test_a_case_that_a_courier_brings_goes_by_courier(tonight):
    """Nobody named the courier's vehicle or firm: the leg is called by how it goes."""
    cases = {case["number"]: case for case in day_list([tonight.shows["SBR"]], T0)["cases"]}
    assert cases["WRE-07"]["leg_words"] == "by courier"
    assert cases["WRE-05"]["leg_words"] == ""  # there already


def test_the_phone_hears_of_the_second_story_and_of_the_other_seal(tonight):
    cases = {case["number"]: case for case in fetch().json()["cases"]}
    assert [story["words"].rpartition(" at ")[0] for story in cases["HER-07"]["others"]] == [
        "Meadowrue by Pim Osgood", "Teasel by Ana Rell",
    ]  # fmt: skip
    read = cases["HER-12"]["seal_read"]
    assert (cases["HER-12"]["seal"], read["was"], read["number"]) == ("", "004418", "004481")


def test_an_account_sees_the_shows_that_are_out_or_soon(tonight, sign_in):
    client = Client()
    client.force_login(tonight.witnesses["wes"].user)
    day = client.get("/api/day/").json()
    assert day["pass"]["verbs"] is None
    assert "FMC" in {leg["show"] for leg in day["legs"]}


@pytest.mark.parametrize("name", ["tomas", "jo"])
def test_who_does_not_scan_gets_no_list(tonight, name):
    client = Client()
    client.force_login(tonight.witnesses[name].user)
    assert client.get("/api/day/").status_code == 401
