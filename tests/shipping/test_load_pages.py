"""The page to load by, by account and by pass: scan, undo, count off, depart and arrive."""

from __future__ import annotations

from uuid import uuid4

import pytest

from inventory.models import Device, Entry
from tests.factories import (
    make_case,
    make_leg,
    make_vehicle,
)
from tests.shipping.docked import code, text

pytestmark = pytest.mark.usefixtures("clock")


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
    assert f'href="/leg/{leg.pk}/">Answer these, or set one aside with a reason' in text(response)
    assert 'value="full"' in text(response)
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
    assert "1 of 2 counted at Mill Yard" in page
    assert "not received: HER-02;" in page
    assert "It left without 1: HER-03" in page and "van full." in page
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
