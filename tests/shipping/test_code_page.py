"""The page of a label: whom to call for a stranger, the thing and the next action for the crew."""

from __future__ import annotations

import pytest
from django.test import Client

from inventory import ledger
from inventory.ledger import Fact
from inventory.models import Entry, Label, Verb
from tests.factories import (
    IDA,
    T0,
    make_case,
    make_item,
    make_place,
    make_type,
)
from tests.shipping.docked import code, text

pytestmark = pytest.mark.usefixtures("clock")


@pytest.mark.parametrize("form", ["/T/{}", "/t/{}", "/T/{}/"])
@pytest.mark.parametrize("lower", [True, False])
def test_a_stranger_sees_whom_to_call_and_nothing_else(settings, cases, form, lower):
    settings.OWNER_NAME, settings.OWNER_PHONE = "Lanternfold Field Pictures", "+44 7700 900100"
    address = form.format(code(cases[0]).lower() if lower else code(cases[0]))
    page = text(Client().get(address))
    assert "+44 7700 900100" in page
    assert "HER-01" not in page
    assert "case" not in page.split("<main")[1].split("</main>")[0].lower()


def test_a_stranger_cannot_tell_an_issued_code_from_another(cases):
    known, unknown = Client().get(f"/T/{code(cases[0])}"), Client().get("/T/AAAAAAA")
    assert known.status_code == unknown.status_code == 200
    assert (
        text(known).replace(code(cases[0]), "X").split("<main")[1].split("csrf")[0]
        == text(unknown).replace("AAAAAAA", "X").split("<main")[1].split("csrf")[0]
    )


def test_a_client_is_a_stranger_here(sign_in, client_person, cases):
    assert "HER-01" not in text(sign_in(client_person).get(f"/T/{code(cases[0])}"))


def test_crew_see_the_thing_and_one_next_action(pim, leg, cases):
    page = text(pim.get(f"/t/{code(cases[0]).lower()}"))
    assert "HER-01 goes on Teasel, to Mill Yard." in page
    assert page.count('class="main"') == 1
    data = {"code": code(cases[0]), "doing": "load", "from": "code-page"}
    after = text(pim.post(f"/load/{leg.pk}/scan/", data, follow=True))
    assert "GOOD" in after
    assert "HER-01 is on Teasel." in after


def test_the_next_action_follows_the_ride(pim, sign_in, road_lead, leg, cases, monkeypatch, clock):
    monkeypatch.setattr("shipping.planning.blocks_for_leg", lambda leg, at: [])
    pim.post(f"/load/{leg.pk}/scan/", {"code": code(cases[0]), "doing": "load"})
    lead = sign_in(road_lead)
    clock.shift(60)
    lead.post(f"/load/{leg.pk}/depart/", {"without": "full"})
    assert "on the road to Mill Yard" in text(pim.get(f"/T/{code(cases[0])}"))
    clock.shift(60)
    lead.post(f"/load/{leg.pk}/arrive/")
    assert "count it off" in text(pim.get(f"/T/{code(cases[0])}"))


def test_a_pass_does_not_see_a_thing_of_another_show(pim, leg):
    other = make_case("CUR-01")
    page = text(pim.get(f"/T/{code(other)}"))
    assert "NOT ON THIS SHOW" in page
    assert "CUR-01" not in page


def test_a_pass_sees_what_is_inside_a_case_of_its_show(pim, leg, cases):
    cord = make_item(make_type("Cord 2 m"))
    ledger.record([Fact(Verb.PACKED, cord, place=cases[0].inside)], by=IDA, at=T0)
    assert "Cord 2 m" in text(pim.get(f"/T/{code(cord)}"))


def test_an_unknown_code_is_found_here_or_adopted(pim, sign_in, kit_manager, leg, cases):
    assert pim.get("/T/NEVERSEEN9").status_code == 404
    assert "Adopt" not in text(pim.get("/T/NEVERSEEN9"))
    pim.post("/T/NEVERSEEN9/found/", {"place": leg.from_place_id, "note": "keyboard"})
    entry = Entry.objects.get()
    assert (entry.verb, entry.label.code, entry.place) == ("found", "NEVERSEEN9", leg.from_place)
    kit = sign_in(kit_manager)
    assert "Adopt" in text(kit.get("/T/NEVERSEEN9"))
    kit.post("/T/NEVERSEEN9/adopt/", {"thing": "HER-02"})
    assert Label.objects.get(code="NEVERSEEN9").item == cases[1]


def test_only_a_kit_manager_adopts(pim, sign_in, road_lead, leg, cases):
    for client in (pim, sign_in(road_lead)):
        assert client.post("/T/NEVERSEEN9/adopt/", {"thing": "HER-02"}).status_code == 403
    assert not Label.objects.filter(code="NEVERSEEN9", item__isnull=False).exists()


def test_a_code_once_bound_is_never_bound_to_another(sign_in, kit_manager, cases):
    client = sign_in(kit_manager)
    client.post(f"/T/{code(cases[0])}/adopt/", {"thing": "HER-02"})
    assert cases[0].labels.count() == 1


def test_seen_and_counted_are_one_press(pim, sign_in, crew, leg, cases):
    pim.post(f"/T/{code(cases[0])}/seen/")
    lot = make_item(make_type("Gaffer", is_lot=True), quantity=12)
    sign_in(crew).post(f"/T/{code(lot)}/count/", {"quantity": "9"})
    assert list(Entry.objects.order_by("id").values_list("verb", "quantity")) == [("seen", None), ("counted", 9)]


def test_received_wants_a_store(sign_in, crew, cases):
    client, yard = sign_in(crew), make_place("Mill Yard", is_ours=True)
    client.post(f"/T/{code(cases[0])}/received/", {"place": ""})
    assert not Entry.objects.exists()
    client.post(f"/T/{code(cases[0])}/received/", {"place": yard.pk})
    assert Entry.objects.get().place == yard


@pytest.mark.parametrize("bad", ["%00", "%F0%9F%93%A6", "x" * 80, "%0A", "..%2f"])
def test_a_strange_code_is_no_error(pim, sign_in, crew, bad):
    for client in (pim, Client(), sign_in(crew)):
        assert client.get(f"/T/{bad}").status_code in (200, 404)
