"""The dock view: what is still to go on, two stories, phones; and who may open the pages of a leg."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from inventory import passes
from inventory.models import DayPass, Entry, SetAside
from tests.factories import (
    T0,
    make_case,
    make_device,
    make_leg,
    make_pass,
    make_place,
    make_show,
    make_vehicle,
)
from tests.inventory.uploading import a_scan, answers, later
from tests.shipping.docked import MINUTE, code, text

pytestmark = pytest.mark.usefixtures("clock")


@pytest.fixture
def wrong_show(db) -> Client:
    """A phone on another show's pass."""
    make_device("Store hand", day_pass=make_pass("CCA"))
    client = Client()
    client.cookies["device"] = "Store hand"
    return client


# Who may


LEG_PAGES = ["/load/{leg}/", "/dock/{leg}/"]
LEG_ACTS = [
    "/load/{leg}/scan/", "/load/{leg}/undo/", "/load/{leg}/depart/", "/load/{leg}/arrive/", "/load/{leg}/found/",
    "/load/{leg}/broken/", "/load/{leg}/leave/", "/load/{leg}/seal/", "/dock/{leg}/settle/", "/dock/{leg}/aside/1/",
]  # fmt: skip


@pytest.mark.parametrize("address", LEG_PAGES + LEG_ACTS)
def test_a_pass_of_another_show_finds_nothing(wrong_show, leg, address):
    method = wrong_show.get if address in LEG_PAGES else wrong_show.post
    assert method(address.format(leg=leg.pk)).status_code == 404
    assert not Entry.objects.exists()


@pytest.mark.parametrize("address", LEG_PAGES + LEG_ACTS)
def test_strangers_sign_in_and_clients_and_staff_are_refused(sign_in, staff, client_person, leg, address):
    for person, status in ((None, 302), (staff, 403), (client_person, 403)):
        client = sign_in(person)
        method = client.get if address in LEG_PAGES else client.post
        assert method(address.format(leg=leg.pk)).status_code == status


@pytest.mark.parametrize("address", LEG_PAGES + ["/crew/"])
def test_crew_leads_and_kit_managers_open_the_dock(sign_in, crew, road_lead, kit_manager, leg, address):
    for person in (crew, road_lead, kit_manager):
        assert sign_in(person).get(address.format(leg=leg.pk)).status_code == 200


def test_a_pass_that_was_ended_opens_nothing_and_says_so(pim, leg):
    passes.revoke(DayPass.objects.get(), by="Ida Penrake", at=T0 + MINUTE)
    for address in (f"/load/{leg.pk}/", f"/dock/{leg.pk}/", "/crew/"):
        response = pim.get(address)
        assert response.status_code == 403
        assert "ended by Ida Penrake" in text(response)
    assert pim.post(f"/load/{leg.pk}/scan/", {"code": "HER-01"}).status_code == 403


def test_an_accounts_phone_opens_nothing_once_signed_out(db, crew, leg):
    make_device("Wes Tarn", user=crew.user)
    client = Client()
    client.cookies["device"] = "Wes Tarn"
    assert client.get(f"/load/{leg.pk}/").status_code == 302


def test_a_pass_lists_the_legs_of_its_show_only(pim, leg):
    make_leg([make_case("CUR-01")], make_vehicle("Meadowrue"), show=make_show("CCA"))
    page = text(pim.get("/crew/"))
    assert "Teasel" in page
    assert "Meadowrue" not in page


# Dock view


def test_the_dock_shows_the_number_the_faces_and_the_masses(sign_in, road_lead, leg, cases):
    page = text(sign_in(road_lead).get(f"/dock/{leg.pk}/"))
    assert '<p class="big">3</p>' in page
    for words in ("HER-01", "never placed", "not an approval", "mass not known"):
        assert words.lower() in page.lower()


def test_the_dock_looks_again_by_itself_unless_held_still(sign_in, crew, leg):
    client = sign_in(crew)
    page, still = (text(client.get(f"/dock/{leg.pk}/{more}")) for more in ("", "?still=1"))
    assert f'data-now="/dock/{leg.pk}/now/"' in page
    assert ("dock.js" in page, "dock.js" in still) == (True, False)
    assert ('<noscript><meta http-equiv="refresh" content="15">' in page, "refresh" in still) == (True, False)
    assert "Look again</a>" in page


def test_a_phone_with_unsent_scans_and_a_slow_clock_is_named_in_words(sign_in, crew, leg, cases, db):
    phone = make_device("Pim Osgood")
    slow = 47 * 60_000
    answers([a_scan(code(cases[0]), offset_ms=slow, device_seq=3)], unsent=3, offset_ms=slow)
    page = text(sign_in(crew).get(f"/dock/{leg.pk}/"))
    assert phone.day_pass.reference == "FMC"
    assert "Pim Osgood&#x27;s phone still holds 3 scans." in page
    assert "Pim Osgood&#x27;s clock is 47 min slow" in page
    assert "2 of Pim Osgood&#x27;s scans 1 to 3 have not come in." in page
    assert f"2 are missing before {cases[0]} at" in page


def _two_stories(cases):
    """Ana loads HER-01 on Teasel, Pim on Meadowrue, six minutes apart."""
    make_device("Pim Osgood")
    make_device("Ana Rell", day_pass=DayPass.objects.get())
    other = make_vehicle("Meadowrue")
    answers([a_scan("HER-01", verb="loaded", place=f"leg:{_leg_id()}")], "Ana Rell")
    answers([a_scan("HER-01", verb="loaded", place=code(other), at=later(minutes=6))], "Pim Osgood")
    return other


def _leg_id() -> str:
    from shipping.models import Leg

    return str(Leg.objects.get().pk)


def test_two_stories_stand_on_a_card_and_one_look_settles_them(sign_in, road_lead, leg, cases, clock):
    other = _two_stories(cases)
    client = sign_in(road_lead)
    page = text(client.get(f"/dock/{leg.pk}/"))
    assert "HER-01: two stories. Ana Rell put it on Teasel, Pim Osgood on Meadowrue." in page
    data = {"item": cases[0].pk, "place": leg.vehicle.inside.pk}
    client.post(f"/dock/{leg.pk}/settle/", data)
    after = text(client.get(f"/dock/{leg.pk}/"))
    assert "TWO STORIES" not in after
    assert "HER-01</strong> Ana Rell: placed on Teasel · settled: two stories" in after
    assert Entry.objects.get(verb="placed").place == leg.vehicle.inside
    assert Entry.objects.filter(verb="loaded").count() == 2
    assert other.inside.holdings.count() == 0


def test_a_pass_sees_the_card_and_does_not_settle_it(pim, leg, cases):
    make_device("Ana Rell", day_pass=DayPass.objects.get())
    other = make_vehicle("Meadowrue")
    answers([a_scan("HER-01", verb="loaded", place=code(leg.vehicle))], "Ana Rell")
    answers([a_scan("HER-01", verb="loaded", place=code(other), at=later(minutes=6))], "Pim Osgood")
    assert "I looked" not in text(pim.get(f"/dock/{leg.pk}/"))
    data = {"item": cases[0].pk, "place": other.inside.pk}
    assert pim.post(f"/dock/{leg.pk}/settle/", data).status_code == 403
    assert not Entry.objects.filter(verb="placed").exists()


def test_a_case_is_settled_only_where_one_of_the_stories_had_it(sign_in, road_lead, leg, cases):
    data = {"item": cases[0].pk, "place": make_place("Quay Unit").pk}
    sign_in(road_lead).post(f"/dock/{leg.pk}/settle/", data)
    assert not Entry.objects.exists()


def test_a_held_scan_is_accepted_by_one_tap_of_a_kit_manager(sign_in, kit_manager, road_lead, leg, cases, db):
    make_device("Pim Osgood")
    answers([a_scan("HER-01", verb="written off")])
    aside = SetAside.objects.get()
    lead = text(sign_in(road_lead).get(f"/dock/{leg.pk}/"))
    assert "HELD" in lead
    assert ">Accept<" not in lead
    sign_in(kit_manager).post(f"/dock/{leg.pk}/aside/{aside.pk}/", {"answer": "accept"})
    assert Entry.objects.get().verb == "written off"
    assert "HELD" not in text(sign_in(kit_manager).get(f"/dock/{leg.pk}/"))


def test_what_an_account_s_phone_had_held_is_answered_on_a_page_of_its_own(sign_in, kit_manager, road_lead, leg, cases):
    make_device("Pim Osgood")
    answers([a_scan("HER-01", verb="written off"), a_scan("HER-02", verb="written off")])
    first, second = SetAside.objects.order_by("pk")
    ida = sign_in(kit_manager)
    assert "2 uploads wait for your word" in text(ida.get("/held/"))
    assert sign_in(road_lead).post(f"/held/{first.pk}/", {"answer": "accept"}).status_code == 403
    ida.post(f"/held/{first.pk}/", {"answer": "accept"})
    ida.post(f"/held/{second.pk}/", {"answer": "seen"})
    assert Entry.objects.get().label.item == cases[0]
    assert "Nothing is kept aside" in text(ida.get("/held/"))
    second.refresh_from_db()
    assert (second.accepted, second.settled_by) == (False, "Ida Penrake")


def test_the_dock_costs_the_same_however_much_is_on_it(sign_in, kit_manager, leg, cases):
    client = sign_in(kit_manager)
    make_device("Pim Osgood")
    client.post(f"/load/{leg.pk}/scan/", {"code": code(cases[0]), "doing": "load"})
    loaded = a_scan("HER-02", verb="loaded", place=code(leg.vehicle), device_seq=9)  # steps are missing, as of all here
    answers([loaded, a_scan("HER-03", verb="written off")])

    def cost() -> int:
        with CaptureQueriesContext(connection) as ran:
            assert client.get(f"/dock/{leg.pk}/").status_code == 200
            assert client.get(f"/dock/{leg.pk}/now/").status_code == 200
        return len(ran)

    few = cost()
    for n in range(10, 22):
        case = make_case(f"HER-{n}")
        leg.consignment.cases.create(case=case, position=n)
        name = f"Pusher {n}"
        make_device(name, day_pass=DayPass.objects.get())
        answers([a_scan(code(case), verb="loaded", place=code(leg.vehicle)), a_scan("HER-03", verb="inspected")], name)
    assert cost() == few


def test_the_load_page_costs_the_same_however_much_is_on_it(pim, leg, cases):
    def cost() -> int:
        with CaptureQueriesContext(connection) as ran:
            assert pim.get(f"/load/{leg.pk}/").status_code == 200
        return len(ran)

    pim.post(f"/load/{leg.pk}/scan/", {"code": code(cases[0]), "doing": "load"})
    few = cost()
    for n in range(10, 22):
        leg.consignment.cases.create(case=make_case(f"HER-{n}"), position=n)
        pim.post(f"/load/{leg.pk}/scan/", {"code": f"HER-{n}", "doing": "load"})
    assert cost() == few
