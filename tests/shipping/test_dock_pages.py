"""The pages of the dock, by account and by pass: load, count off, dock view, code page, joining."""

from __future__ import annotations

from datetime import timedelta
from uuid import uuid4

import pytest
import time_machine
from django.core.cache import cache
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from inventory import ledger, passes
from inventory.access import token_hash
from inventory.ledger import Fact
from inventory.models import DayPass, Device, Entry, Label, SetAside, Verb
from shipping.models import Show
from tests.factories import (
    IDA,
    T0,
    make_case,
    make_device,
    make_item,
    make_leg,
    make_pass,
    make_place,
    make_show,
    make_type,
    make_vehicle,
)
from tests.inventory.uploading import a_scan, answers, later

MINUTE = timedelta(minutes=1)


@pytest.fixture(autouse=True)
def clock():
    cache.clear()
    with time_machine.travel(T0 + 10 * MINUTE, tick=False) as travelled:
        yield travelled


@pytest.fixture
def wrong_show(db) -> Client:
    """A phone on another show's pass."""
    make_device("Store hand", day_pass=make_pass("CCA"))
    client = Client()
    client.cookies["device"] = "Store hand"
    return client


def code(item) -> str:
    return item.labels.get().code


def text(response) -> str:
    return " ".join(response.content.decode().split())


# Loading


def test_a_pass_loads_by_scan_and_reads_the_result(pim, leg, cases):
    page = pim.get(f"/load/{leg.pk}/")
    assert '<p class="big">3</p>' in text(page)
    after = pim.post(f"/load/{leg.pk}/scan/", {"code": code(cases[0]), "doing": "load"}, follow=True)
    assert after.redirect_chain[0][1] == 302
    assert "GOOD</span>" in text(after)
    assert "HER-01 on Teasel." in text(after)
    assert '<p class="big">2</p>' in text(after)
    assert Entry.objects.get().by == "Pim Osgood"


@pytest.mark.parametrize(
    ("first", "word"), [(["HER-01"], "ALREADY DONE"), (["CUR-01"], "WRONG"), (["NEVERSEEN9"], "UNKNOWN")]
)
def test_each_word_is_on_the_page_with_its_shape(pim, leg, cases, clock, first, word):
    make_leg([make_case("CUR-01")], make_vehicle("Meadowrue"))
    if word == "ALREADY DONE":
        pim.post(f"/load/{leg.pk}/scan/", {"code": first[0], "doing": "load"})
        clock.shift(60)
    after = text(pim.post(f"/load/{leg.pk}/scan/", {"code": first[0], "doing": "load"}, follow=True))
    result = after.split('class="result"')[1].split("</section>")[0]
    assert word in result
    assert "<svg" in result


def test_an_empty_scan_is_a_422_with_a_sentence(pim, leg):
    response = pim.post(f"/load/{leg.pk}/scan/", {"code": "  ", "doing": "load"})
    assert response.status_code == 422
    assert "Nothing was read" in text(response)


def test_an_account_gets_a_phone_of_its_own_so_that_it_can_undo(sign_in, crew, leg, cases):
    client = sign_in(crew)
    client.post(f"/load/{leg.pk}/scan/", {"code": code(cases[0]), "doing": "load"})
    assert Device.objects.get().user == crew.user
    act = Entry.objects.get().act
    after = client.post(f"/load/{leg.pk}/undo/", {"act": act}, follow=True)
    assert '<p class="big">3</p>' in text(after)
    assert Device.objects.count() == 1


def test_undoing_nonsense_says_so(pim, leg):
    for act, words in (("", "no such act"), ("nonsense", "no such act"), (uuid4(), "Only your own last 20")):
        assert words in text(pim.post(f"/load/{leg.pk}/undo/", {"act": act}, follow=True))
    assert not Entry.objects.exists()


def test_depart_shows_each_block_and_its_way_out(sign_in, road_lead, leg, cases, monkeypatch):
    from shipping.packing.facts import Finding, Severity, State

    finding = Finding("payload", "leg:1", Severity.BLOCK, State.WRONG, "Teasel is 90 kg over.", "Take HER-01 off.")
    monkeypatch.setattr("shipping.planning.blocks_for_leg", lambda leg, at: [finding])
    client = sign_in(road_lead)
    client.post(f"/load/{leg.pk}/scan/", {"code": code(cases[0]), "doing": "load"})
    response = client.post(f"/load/{leg.pk}/depart/", {"without": "full"})
    assert response.status_code == 422
    assert "Teasel is 90 kg over." in text(response)
    assert "Take HER-01 off." in text(response)
    assert not Entry.objects.filter(verb="departed").exists()


def test_the_whole_ride_by_pages(sign_in, road_lead, leg, cases, monkeypatch, clock):
    monkeypatch.setattr("shipping.planning.blocks_for_leg", lambda leg, at: [])
    client = sign_in(road_lead)
    for case in cases[:2]:
        client.post(f"/load/{leg.pk}/scan/", {"code": code(case), "doing": "load"})
    short = client.post(f"/load/{leg.pk}/depart/", {"without": ""})
    assert (short.status_code, "Still to go on: HER-03" in text(short)) == (422, True)
    clock.shift(60)
    assert client.post(f"/load/{leg.pk}/depart/", {"without": "van full"}).status_code == 302
    clock.shift(60)
    assert client.post(f"/load/{leg.pk}/arrive/").status_code == 302
    clock.shift(60)
    client.post(f"/load/{leg.pk}/scan/", {"code": code(cases[0]), "doing": "unload"})
    page = text(client.get(f"/load/{leg.pk}/"))
    assert "1 of 3 counted at Mill Yard" in page
    assert "not received: HER-02, HER-03" in page
    client.post(f"/load/{leg.pk}/seal/", {"seal-code": "HER-02", "seal-number": "004481"})
    assert Entry.objects.get(seal="004481").verb == "seen"


def test_a_pass_without_the_verb_does_not_depart(pim, leg, cases):
    pim.post(f"/load/{leg.pk}/scan/", {"code": code(cases[0]), "doing": "load"})
    assert "Asks the rules first" not in text(pim.get(f"/load/{leg.pk}/"))
    response = pim.post(f"/load/{leg.pk}/depart/", {"without": "x"})
    assert response.status_code == 403
    assert not Entry.objects.filter(verb="departed").exists()


def test_found_broken_and_left_are_kept(pim, leg, cases, kit_manager):
    places = {"found-place": leg.from_place_id, "leave-place": leg.from_place_id}
    pim.post(f"/load/{leg.pk}/found/", {"found-code": "", "found-note": "right-angle adapter", **places})
    pim.post(f"/load/{leg.pk}/broken/", {"broken-code": "HER-01", "broken-note": "caster off"})
    leave = {"leave-code": "HER-03", "leave-promised_by": "Ida Penrake", "leave-due_at": "2026-03-20", **places}
    pim.post(f"/load/{leg.pk}/leave/", leave)
    assert sorted(Entry.objects.values_list("verb", flat=True)) == ["faulted", "found", "left"]
    found = Entry.objects.get(verb="found")
    assert (found.label.item, found.note) == (None, "right-angle adapter")
    left = Entry.objects.get(verb="left")
    assert (left.person, f"{left.due_at:%Y-%m-%d}") == (kit_manager, "2026-03-20")


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("found", {}),
        ("broken", {"broken-code": "HER-01"}),
        ("leave", {"leave-code": "HER-01"}),
        ("seal", {"seal-code": "HER-01"}),
        ("broken", {"broken-code": "", "broken-note": "x"}),
    ],
)
def test_a_small_form_half_filled_is_a_422_and_records_nothing(pim, leg, name, data):
    assert pim.post(f"/load/{leg.pk}/{name}/", data).status_code == 422
    assert not Entry.objects.exists()


def test_a_photo_that_is_none_is_said_beside_the_form(pim, leg, cases):
    from django.core.files.uploadedfile import SimpleUploadedFile

    upload = SimpleUploadedFile("x.jpg", b"no picture")
    data = {"broken-code": "HER-01", "broken-note": "caster off", "broken-photo": upload}
    assert pim.post(f"/load/{leg.pk}/broken/", data).status_code == 422
    assert not Entry.objects.exists()


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
    answers([a_scan("HER-02", verb="loaded", place=code(leg.vehicle)), a_scan("HER-03", verb="written off")])

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


# Code page


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


# Passes


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
    assert sign_in(kit_manager).post("/show/FMC/passes/", data).status_code == 422
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
