"""Passes: made by a lead, ended at once, joined by a link and a name."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client

from inventory import passes
from inventory.access import token_hash
from inventory.models import DayPass, Device
from shipping.models import Show
from tests.factories import (
    make_pass,
    make_show,
)
from tests.inventory.uploading import a_scan, answers, later
from tests.shipping.docked import code, text

pytestmark = pytest.mark.usefixtures("clock")


def test_a_lead_makes_a_pass_that_prints_its_code_and_a_qr(sign_in, road_lead, db):
    make_show()
    client = sign_in(road_lead)
    response = client.post("/show/FMC/passes/", {"hours": 36, "verbs": ["loaded", "unloaded"]})
    made = DayPass.objects.get()
    assert response["Location"] == f"/pass/{made.pk}/"
    assert (made.valid_until - made.valid_from, made.made_by) == (timedelta(hours=36), "Ana Rell")
    assert made.allowed_verbs == {"loaded", "unloaded"}
    page = text(client.get(response["Location"]))
    assert made.code in page
    assert "<svg" in page
    assert f"/join/{made.code}/" in page


@pytest.mark.parametrize(
    "data", [{"hours": 23, "verbs": ["loaded"]}, {"hours": 73, "verbs": ["loaded"]}, {"hours": 36}]
)
def test_a_pass_too_short_too_long_or_for_nothing_is_refused(sign_in, kit_manager, db, data):
    make_show()
    refused = sign_in(kit_manager).post("/show/FMC/passes/", data)
    assert refused.status_code == 422
    assert ('<details open id="may">' in text(refused)) == ("verbs" not in data)
    assert not DayPass.objects.exists()


def test_crew_and_passes_make_no_passes(sign_in, crew, pim):
    make_show()
    for client, status in ((sign_in(crew), 403), (pim, 302)):
        assert client.get("/show/FMC/passes/").status_code == status
        assert client.post("/show/FMC/passes/", {"hours": 36, "verbs": ["loaded"]}).status_code == status
        assert client.post(f"/pass/{DayPass.objects.get().pk}/end/").status_code == status


def test_ending_a_pass_takes_effect_at_once(sign_in, road_lead, pim, leg):
    assert pim.get(f"/load/{leg.pk}/").status_code == 200
    sign_in(road_lead).post(f"/pass/{DayPass.objects.get().pk}/end/")
    assert pim.get(f"/load/{leg.pk}/").status_code == 403


def test_a_name_is_enough_to_join(db, leg):
    made = make_pass(code="K7FX-3M9H")
    client = Client(enforce_csrf_checks=False)
    assert "No account, no password" in text(client.get("/join/k7fx3m9h/"))
    response = client.post("/join/K7FX-3M9H/", {"name": "  Pim   Osgood "})
    assert response["Location"] == "/scan/"
    device = Device.objects.get()
    assert (device.name, device.day_pass) == ("Pim Osgood", made)
    cookie = response.cookies["device"]
    assert (token_hash(cookie.value), cookie["httponly"]) == (device.token_hash, True)
    assert client.get("/crew/").status_code == 200


def test_a_page_that_sends_scans_gets_its_token_as_json(db, leg, cases):
    make_pass(code="K7FX-3M9H")
    joined = Client().post("/join/K7FX-3M9H/", {"name": "Pim"}, headers={"Accept": "application/json"}).json()
    assert joined["reference"] == "FMC"
    assert answers([a_scan(code(cases[0]))], joined["token"])[0]["receipt"] == "stored"


@pytest.mark.parametrize("name", ["", "   ", "x" * 121, "a\x00b"])
def test_joining_wants_a_name(db, name):
    make_pass(code="K7FX-3M9H")
    assert Client().post("/join/K7FX-3M9H/", {"name": name}).status_code == 422
    assert not Device.objects.exists()


def test_a_pass_that_ran_out_lets_nobody_in(db, clock):
    make_pass(code="K7FX-3M9H")
    clock.move_to(later(days=4))
    assert Client().get("/join/K7FX-3M9H/").status_code == 410
    assert Client().post("/join/K7FX-3M9H/", {"name": "Pim"}).status_code == 410
    assert not Device.objects.exists()


def test_guessing_codes_is_slowed(db):
    make_pass(code="K7FX-3M9H")
    client = Client()
    assert [client.get(f"/join/AAAA-AAA{n % 10}/").status_code for n in range(21)] == [404] * 20 + [429]
    assert client.get("/join/K7FX-3M9H/").status_code == 429
    assert Client(REMOTE_ADDR="192.0.2.9").get("/join/K7FX-3M9H/").status_code == 200


def test_a_discreet_show_is_not_named_to_whoever_holds_the_code(db):
    make_show(discreet=True)
    make_pass(code="K7FX-3M9H")
    page = text(Client().get("/join/K7FX-3M9H/"))
    assert Show.objects.get().name not in page
    assert "FMC" in page


def test_a_code_said_on_the_radio_finds_its_pass(db):
    make_pass(code="HERON-KESTREL-47")
    assert Client().get("/join/", {"code": "heron kestrel 47"}, follow=True).status_code == 200
    assert Client().get("/join/", {"code": ""}).status_code == 200


def test_a_code_is_spelt_for_the_radio():
    assert passes.spoken("K7FX-3M9H") == "Kilo seven Foxtrot X-ray, three Mike nine Hotel"
    for letter in passes.ALPHABET:
        assert passes.SPELLING[letter]
