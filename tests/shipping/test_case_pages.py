"""The case's page says whether it may close, and every act on it answers in words."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inventory import ledger
from inventory.ledger import Fact
from inventory.models import Entry, ItemAlias, Kind, Role, Verb
from shipping.models import Waiver
from shipping.planning import findings_for_case
from tests.factories import ANA, T0, make_case, make_case_type, make_drive, make_item, make_type
from tests.shipping.packed import make_heron, make_leg, make_show, put, stand


@pytest.fixture
def heron(db):
    return make_heron(at=timezone.now() - timedelta(hours=2))


def page(client, number="HER-03"):
    return client.get(reverse("case", args=[number]))


def post(client, act, case="HER-03", /, **data):
    return client.post(reverse(f"case-{act}", args=[case]), data)


def text(response) -> str:
    plain = re.sub(r"<[^>]+>", " ", response.content.decode())
    return re.sub(r"\s+", " ", plain)


def test_a_case_that_may_close_says_so_first(heron, kit_manager, sign_in):
    said = text(page(sign_in(kit_manager)))
    assert "CAN CLOSE Nothing stands in the way of closing it." in said


def test_a_case_that_may_not_close_says_how_many_things_and_which(heron, kit_manager, sign_in):
    curlew = make_heron("CUR-03", name="CURLEW-1", at=T0)
    put(heron.box, curlew.drives[0], bays="E", at=timezone.now())
    stand(heron.drives[0], at=timezone.now())
    said = text(page(sign_in(kit_manager)))
    assert "NOT YET Two things stand in the way of closing it." in said
    assert "A drive of CURLEW-1 (bay A) is in slot E" in said and "Take it out, or say why it travels here." in said
    assert "HERON-1 A is missing: at Mill Yard" in said


def test_sealing_over_a_block_answers_422_with_the_reason_and_the_way_out(heron, kit_manager, sign_in):
    stand(heron.drives[0], at=timezone.now())
    response = post(sign_in(kit_manager), "seal", number="004470")
    assert response.status_code == 422
    said = text(response)
    assert "HER-03 is not sealed. One thing stands in the way of closing it." in said
    assert "Bring it, or say why the set travels without it." in said
    assert not Entry.objects.filter(verb=Verb.SEALED).exists()


def test_sealing_goes_back_to_the_page_which_then_offers_to_break_the_seal(heron, kit_manager, sign_in):
    client = sign_in(kit_manager)
    response = post(client, "seal", number="004470")
    assert response.status_code == 302 and response.url == reverse("case", args=["HER-03"])
    said = text(page(client))
    assert "SEALED Closed with seal 004470." in said and "Break seal 004470" in said


def test_a_seal_put_on_by_scan_over_a_block_stands_on_the_page(heron, kit_manager, sign_in):
    stand(heron.drives[0], at=timezone.now())
    ledger.record([Fact(Verb.SEALED, heron.box, seal="5")], by=ANA, at=timezone.now())
    assert "SEALED OVER A BLOCK" in text(page(sign_in(kit_manager)))


def test_packing_by_code_puts_it_in_and_an_unknown_code_says_what_to_do(heron, crew, sign_in):
    client, drive = sign_in(crew), make_drive("X1")
    assert post(client, "pack", thing=drive.labels.get().code.lower(), slot="pocket").status_code == 302
    assert drive.holding.place == heron.box.inside
    response = post(client, "pack", thing="NOTHING")
    assert response.status_code == 422 and "Nothing in the book is called NOTHING" in text(response)


def test_taking_out_and_weighing_answer_in_words(heron, crew, sign_in):
    client = sign_in(crew)
    assert post(client, "take-out", thing=heron.drives[0].serial).status_code == 302
    assert "is out of HER-03, at Mill Yard" in text(page(client))
    assert post(client, "weigh", scale="7,5 kg").status_code == 302
    assert "7.5 kg weighed" in text(page(client))
    assert post(client, "weigh", scale="heavy").status_code == 422


def test_the_short_list_is_answered_at_once_as_in_the_photo(heron, crew, sign_in):
    client = sign_in(crew)
    assert "Is each drive in an antistatic sleeve or slot?" in text(page(client))
    assert post(client, "confirm", all="1").status_code == 302
    said = text(page(client))
    assert "antistatic" not in said and "How much foam is round each drive?" in said
    assert post(client, "confirm", **{"rule-foam-round-drives": "30"}).status_code == 302
    assert "How much foam" not in text(page(client))


def test_on_a_sealed_case_nobody_is_asked_to_look_inside(heron, crew, sign_in):
    client = sign_in(crew)
    post(client, "seal", number="004470")
    said = text(page(client))
    assert "Not confirmed before it was closed" in said and "All as in the photo" not in said


def test_a_measure_that_is_no_number_is_asked_again(heron, crew, sign_in):
    assert "as a number" in text(post(sign_in(crew), "confirm", **{"rule-foam-round-drives": "enough"}))


def test_a_kit_manager_waives_with_a_reason_and_the_word_stands_on_the_page(heron, kit_manager, sign_in):
    client = sign_in(kit_manager)
    stand(heron.drives[0], at=timezone.now())
    block = next(one for one in findings_for_case(heron.box, timezone.now()) if one.blocks)
    assert post(client, "waive", finding=block.digest, reason="A is at the maker").status_code == 302
    said = text(page(client))
    assert "CAN CLOSE" in said and "Waived by Ida Penrake, kit manager: A is at the maker" in said


def test_a_waiver_of_facts_that_changed_meanwhile_is_refused(heron, kit_manager, sign_in):
    response = post(sign_in(kit_manager), "waive", finding="0" * 64, reason="why not")
    assert response.status_code == 422 and "The facts have changed" in text(response)
    assert not Waiver.objects.exists()


@pytest.mark.parametrize("lead,allowed", [("Ana Rell", True), ("Tomas Quill", False), (None, True)])
def test_a_road_lead_waives_on_their_own_show(heron, road_lead, staff, sign_in, lead, allowed):
    people = {"Ana Rell": road_lead, "Tomas Quill": staff, None: None}
    show = make_show(at=timezone.now(), lead=people[lead])
    make_leg(show, [heron.box])
    stand(heron.drives[0], at=timezone.now())
    block = next(one for one in findings_for_case(heron.box, timezone.now()) if one.blocks)
    response = post(sign_in(road_lead), "waive", finding=block.digest, reason="A is at the maker")
    assert response.status_code == (302 if allowed else 422)


def test_a_rule_that_nobody_can_waive_asks_for_name_and_document(db, kit_manager, sign_in):
    case = make_case("WRE-06")
    ups = make_type(
        "Steady L8", "Drumfell", kind=Kind.UPS, battery_chemistry="lithium", battery_wh=640, battery_count=1
    )
    put(case, make_item(ups, serial="L8-1", home_case=case), at=T0)
    make_leg(make_show(at=timezone.now()), [case], mode="air")
    client = sign_in(kit_manager)
    assert "Nobody can waive this: record a decision" in text(page(client, "WRE-06"))
    block = next(one for one in findings_for_case(case, timezone.now()) if one.blocks)
    given = {"finding": block.digest, "reason": "boxed by them"}
    assert post(client, "waive", "WRE-06", **given).status_code == 422
    given |= {"person": "R. Holm, carrier's DG desk", "document": "DGD 0417"}
    assert post(client, "waive", "WRE-06", **given).status_code == 302
    said = text(page(client, "WRE-06"))
    assert "decision of R. Holm" in said and "not approved by this tool" in said


@pytest.mark.parametrize("act", ["seal", "break-seal", "pack", "take-out", "weigh", "confirm", "waive"])
def test_acts_are_closed_to_staff_clients_and_strangers(heron, staff, client_person, sign_in, act):
    before = Entry.objects.count()
    assert post(sign_in(staff), act).status_code == 403
    assert post(sign_in(client_person), act).status_code == 403
    assert post(sign_in(None), act).status_code == 302
    assert sign_in(staff).get(reverse(f"case-{act}", args=["HER-03"])).status_code == 405
    assert Entry.objects.count() == before


def test_crew_cannot_waive_and_see_no_form_for_it(heron, crew, sign_in):
    stand(heron.drives[0], at=timezone.now())
    client = sign_in(crew)
    assert "Waive it" not in text(page(client))
    assert post(client, "waive", finding="x", reason="y").status_code == 403


@pytest.mark.parametrize("role,status", [(Role.STAFF, 200), (Role.CREW, 200), (Role.CLIENT, 403)])
def test_the_house_reads_and_a_client_does_not(heron, staff, sign_in, role, status):
    staff.role = role
    staff.save()
    client = sign_in(staff)
    assert page(client).status_code == status
    assert client.get(reverse("cases")).status_code == status


def test_a_former_number_leads_to_the_present_one(db, kit_manager, sign_in):
    case = make_case("GEN-03")
    ItemAlias.objects.create(item=case, number="CBL-01", since=T0)
    response = sign_in(kit_manager).get(reverse("case", args=["cbl-01"]), follow=True)
    assert "cbl-01 is now GEN-03. Relabel it." in text(response)


@pytest.mark.parametrize("number", ["NO-99", "Meadowrue"])
def test_what_is_no_case_has_no_case_page(db, kit_manager, sign_in, number):
    make_item(make_case_type("van", kind=Kind.VEHICLE), number="Meadowrue")
    assert page(sign_in(kit_manager), number).status_code == 404


def test_a_case_without_a_number_goes_by_its_code(db, kit_manager, sign_in):
    case = make_item(make_case_type(), name="odd box")
    assert "odd box" in text(page(sign_in(kit_manager), case.labels.get().code))


def test_names_from_outside_are_shown_as_text(db, kit_manager, sign_in):
    case = make_case("HER-06", name="<script>alert(1)</script>")
    put(case, make_item(make_type("<b>bold</b>"), home_case=case), at=T0)
    body = page(sign_in(kit_manager), "HER-06").content.decode()
    assert "<script>alert" not in body and "<b>bold" not in body


def test_the_list_of_cases_names_seal_and_place_and_costs_the_same_for_more(
    db, kit_manager, sign_in, django_assert_num_queries
):
    client = sign_in(kit_manager)
    counts = []
    for start in (1, 3):
        for n in range(start, start * 3):
            box = make_heron(f"HER-{n:02}", name=f"HERON-{n}", at=T0).box
            ledger.record([Fact(Verb.SEALED, box, seal=f"S{n}")], by=ANA, at=T0 + timedelta(hours=1))
        with CaptureQueriesContext(
            connection,
        ) as run:
            said = text(client.get(reverse("cases")))
        counts.append(len(run))
    assert "sealed S1" in said and "Mill Yard" in said
    assert counts[0] == counts[1]


def test_a_rule_that_asks_for_a_number_in_its_own_unit_takes_it(heron, crew, sign_in):
    """The state of charge is a number in per cent, never a yes."""
    packs = make_type("pack", kind=Kind.BATTERY, battery_chemistry="lithium-ion", battery_wh=50, battery_count=1,
                      mass_kg="0.4")  # fmt: skip
    lamp = make_type("lamp", kind=Kind.OTHER, battery_chemistry="lithium-ion", battery_wh=50, battery_count=1)
    put(heron.box, make_item(packs), make_item(lamp), at=timezone.now() - timedelta(hours=1))
    make_leg(make_show(at=timezone.now()), [heron.box], mode="air", departs_at=timezone.now() + timedelta(days=1))
    client, rule = sign_in(crew), "lithium-with-equipment-by-air"
    body = page(client).content.decode()
    assert f'name="rule-{rule}" inputmode="decimal"' in body and "Measured, in %" in body
    assert post(client, "confirm", **{f"rule-{rule}": "yes"}).status_code == 422
    assert post(client, "confirm", **{f"rule-{rule}": "80"}).status_code == 302
    assert "The batteries are 80 % charged." in text(page(client))
    assert post(client, "confirm", **{f"rule-{rule}": "25,5"}).status_code == 302
    assert "charged" not in text(page(client))
