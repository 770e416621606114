"""The border list's page: what is wrong with it, issuing it, what goes across."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from shipping import border
from shipping.models import BorderList
from shipping.planning import findings_for_border
from tests.factories import make_drive
from tests.shipping.packed import make_heron, make_leg, make_show, put
from tests.shipping.test_case_pages import text


@pytest.fixture
def listed(db):
    heron = make_heron()
    kind = heron.drives[0].type
    kind.replacement_value, kind.currency, kind.country_of_origin = Decimal(400), "GBP", "GB"
    kind.save()
    leg = make_leg(make_show(at=timezone.now()), [heron.box], crosses_border=True)
    put(heron.box, make_drive("88C01T"), bays="pocket")
    made = border.draft(leg.consignment.show, "GL-2207")
    border.leave_out(made.lines.get(serial="88C01T"))
    return made


def test_the_page_names_what_is_on_the_leg_and_on_no_line(listed, staff, sign_in):
    said = text(sign_in(staff).get(reverse("border-list", args=[listed.pk])))
    assert "DRAFT Nothing stands in the way of issuing it." in said
    assert "3 of 3 lines go across; 1 thing on the leg is on no line." in said and "88C01T" in said


def test_a_wrong_line_is_refused_mended_and_then_issued(listed, kit_manager, sign_in):
    client, line = sign_in(kit_manager), listed.lines.first()
    address = reverse("border-line", args=[listed.pk, line.line])
    data = {
        "description": "assorted drives", "serial": line.serial, "pieces": 1, "mass_kg": "0.7", "value": "400",
        "currency": "GBP", "origin": "GB", "owner_consents": "on",
    }  # fmt: skip
    assert client.post(address, data).status_code == 302
    refused = client.post(reverse("border-issue", args=[listed.pk]))
    assert refused.status_code == 422
    assert "One thing stands in the way of issuing it." in text(refused) and "says “assorted”" in text(refused)
    client.post(address, {**data, "description": "drive, Pomandre Ingot 4T"})
    assert client.post(reverse("border-issue", args=[listed.pk])).status_code == 302
    assert "ISSUED" in text(client.get(reverse("border-list", args=[listed.pk])))
    again = client.post(address, data)
    assert again.status_code == 422 and "nothing is added to it or changed" in text(again)


def test_a_road_lead_records_whose_decision_a_wrong_line_is(listed, road_lead, sign_in):
    border.mend(listed.lines.first(), description="assorted drives")
    found = next(one for one in findings_for_border(listed, timezone.now()) if one.blocks)
    client, address = sign_in(road_lead), reverse("border-decide", args=[listed.pk])
    assert client.post(address, {"finding": found.digest, "reason": "as ever"}).status_code == 422
    data = {"finding": found.digest, "reason": "as ever", "person": "R. Holm, agent", "document": "e-mail 3 May"}
    assert client.post(address, data).status_code == 302
    assert "not approved by this tool" in text(client.get(reverse("border-list", args=[listed.pk])))


def test_a_list_is_drafted_from_what_travels(db, kit_manager, sign_in):
    leg = make_leg(make_show(), [make_heron().box])
    client, address = sign_in(kit_manager), reverse("border-new", args=["FMC"])
    assert client.get(address).status_code == 200
    assert client.post(address, {"number": "GL-1"}).status_code == 302
    assert BorderList.objects.get().lines.count() == 3 and leg.consignment.show.border_lists.count() == 1
    assert client.post(address, {"number": "GL-1"}).status_code == 422


@pytest.mark.parametrize("name,args", [("border-issue", []), ("border-line", [1])])
def test_only_a_kit_manager_changes_a_list(listed, crew, staff, client_person, sign_in, name, args):
    address = reverse(name, args=[listed.pk, *args])
    for person in (crew, staff, client_person):
        assert sign_in(person).post(address).status_code == 403
    assert sign_in(None).post(address).status_code == 302
    listed.refresh_from_db()
    assert listed.issued_at is None


def test_a_client_does_not_see_a_list(listed, client_person, sign_in):
    assert sign_in(client_person).get(reverse("border-list", args=[listed.pk])).status_code == 403
