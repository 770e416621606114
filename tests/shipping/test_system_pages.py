"""The pages of systems: who sees what, what is refused, what is kept."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inventory.ledger import Fact, record
from inventory.models import Entry, Kind, Necessity, SetupCheck, System, SystemPart, Verb
from tests.factories import IDA, make_case, make_item, make_place, make_system, make_type


@pytest.fixture
def curlew(db):
    system = make_system("Curlew", colour="YELLOW", prefix="CUR")
    case = make_case("CUR-02", home_system=system)
    panel = make_item(
        make_type("Ebbmark Wide", "Orrinvale", kind=Kind.PANEL), serial="W1002", home_system=system, home_case=case
    )
    SystemPart.objects.create(system=system, item=panel)
    at = timezone.now()
    record([Fact(Verb.PLACED, case, place=make_place(is_ours=True))], by=IDA, at=at)
    record([Fact(Verb.PACKED, panel, place=case.inside)], by=IDA, at=at)
    return system


def page(system, name="system", **more):
    return reverse(name, args=[system.slug, *more.values()])


def text(response):
    return response.content.decode()


def test_the_page_says_the_verdict_first_and_the_part_with_its_serial(curlew, kit_manager, sign_in):
    said = text(sign_in(kit_manager).get(page(curlew)))
    assert "Curlew is READY for" in said
    assert "W1002" in said


@pytest.mark.parametrize("name", ["road_lead", "crew", "staff"])
def test_the_house_reads_and_is_offered_no_writing(curlew, sign_in, request, name):
    said = text(sign_in(request.getfixturevalue(name)).get(page(curlew)))
    assert "READY" in said
    assert "Add a part" not in said and reverse("system-sign", args=["curlew"]) not in said


def test_a_client_and_a_stranger_do_not_see_it(curlew, client_person, sign_in):
    assert sign_in(client_person).get(page(curlew)).status_code == 403
    assert sign_in(None).get(page(curlew)).status_code == 302


def test_an_unknown_system_is_404_and_a_bad_day_is_today(curlew, kit_manager, sign_in):
    client = sign_in(kit_manager)
    assert client.get("/system/wren/").status_code == 404
    assert client.get(page(curlew) + "?on=2026-13-45").status_code == 200
    assert client.get(page(curlew) + "?on=rubbish").status_code == 200


@pytest.mark.parametrize("name", ["system-sign", "system-part-add", "system-check-add"])
def test_only_the_kit_manager_writes_and_only_by_post(curlew, kit_manager, road_lead, sign_in, name):
    assert sign_in(road_lead).post(page(curlew, name)).status_code == 403
    assert sign_in(kit_manager).get(page(curlew, name)).status_code == 405
    assert sign_in(kit_manager).post(page(curlew, name)).status_code == 422


def test_asking_for_another_day_moves_the_verdict(curlew, kit_manager, sign_in):
    panel = SystemPart.objects.get().item
    panel.inspection_due = timezone.localdate() + timezone.timedelta(days=30)
    panel.save(update_fields=["inspection_due"])
    client = sign_in(kit_manager)
    assert "is READY" in text(client.get(page(curlew)))
    late = timezone.localdate() + timezone.timedelta(days=24)
    assert "NOT READY" in text(client.get(page(curlew) + f"?on={late}"))


def test_signing_keeps_what_was_shown_and_refuses_what_has_changed(curlew, kit_manager, sign_in):
    client = sign_in(kit_manager)
    shown = client.get(page(curlew)).context["digest"]
    assert client.post(page(curlew, "system-sign"), {"shown": shown}).status_code == 302
    assert Entry.objects.get(verb=Verb.SIGNED).value == "curlew: READY"
    record([Fact(Verb.FAULTED, SystemPart.objects.get().item, note="dark")], by=IDA, at=timezone.now())
    stale = client.post(page(curlew, "system-sign"), {"shown": shown})
    assert stale.status_code == 422
    assert "Something changed while you read this page" in text(stale)
    assert "Ida Penrake signed READY" in text(client.get(page(curlew)))


def test_signing_not_ready_takes_words(curlew, kit_manager, sign_in):
    record([Fact(Verb.FAULTED, SystemPart.objects.get().item, note="dark")], by=IDA, at=timezone.now())
    client = sign_in(kit_manager)
    shown = client.get(page(curlew)).context["digest"]
    assert client.post(page(curlew, "system-sign"), {"shown": shown}).status_code == 422
    answer = client.post(page(curlew, "system-sign"), {"shown": shown, "words": "spare panel goes"})
    assert answer.status_code == 302
    assert "spare panel goes" in Entry.objects.get(verb=Verb.SIGNED).note


def test_a_part_is_added_by_serial_or_by_type_and_never_by_both(curlew, kit_manager, sign_in):
    client, add = sign_in(kit_manager), page(curlew, "system-part-add")
    rail = make_item(make_type("rail", "Orrinvale"), serial="R7", home_system=curlew)
    base = {"quantity": "1", "necessity": Necessity.REQUIRED}
    assert client.post(add, {**base, "thing": "R7"}).status_code == 302
    assert client.post(add, {**base, "type": rail.type_id, "quantity": "2"}).status_code == 302
    both = client.post(add, {**base, "thing": "R7", "type": rail.type_id})
    assert (both.status_code, "one of the two" in text(both)) == (422, True)
    nothing = client.post(add, {**base, "thing": "ZZZ"})
    assert (nothing.status_code, "Nothing has that code" in text(nothing)) == (422, True)
    assert curlew.parts.count() == 3


def test_a_part_is_changed_and_taken_off_while_the_thing_stays(curlew, kit_manager, sign_in):
    client, part = sign_in(kit_manager), curlew.parts.get()
    address = page(curlew, "system-part-edit", pk=part.pk)
    assert address in text(client.get(page(curlew))) and "Take off the list" in text(client.get(address))
    assert client.post(address, {"quantity": "1", "necessity": "spare", "show_stopper": "on"}).status_code == 302
    part.refresh_from_db()
    assert (part.necessity, part.show_stopper) == ("spare", True)
    assert client.post(address, {"quantity": "x", "necessity": "spare"}).status_code == 422
    assert client.post(address, {"remove": "1"}).status_code == 302
    assert curlew.parts.count() == 0 and part.item.pk


def test_a_set_up_check_is_added_looked_at_by_anybody_of_the_house_and_removed(curlew, kit_manager, crew, sign_in):
    client = sign_in(kit_manager)
    client.post(page(curlew, "system-check-add"), {"text": "Both supplies on separate feeds"})
    check = SetupCheck.objects.get()
    assert "nobody looked yet" in text(client.get(page(curlew)))
    assert sign_in(crew).post(page(curlew, "system-check", pk=check.pk)).status_code == 302
    assert Entry.objects.get(verb=Verb.CHECKED).value == "Both supplies on separate feeds"
    assert "Wes Tarn" in text(client.get(page(curlew)))
    assert sign_in(crew).post(page(curlew, "system-check-remove", pk=check.pk)).status_code == 403
    client.post(page(curlew, "system-check-remove", pk=check.pk))
    assert not SetupCheck.objects.exists()


def test_a_system_is_added_once(curlew, kit_manager, staff, sign_in):
    client, add = sign_in(kit_manager), reverse("system-add")
    assert client.post(add, {"name": "Wren", "colour": "GREEN", "prefix": "WRE"}).status_code == 302
    assert client.post(add, {"name": "wren!"}).status_code == 422
    assert client.post(add, {"name": "!!!"}).status_code == 422
    assert sign_in(staff).post(add, {"name": "Swift"}).status_code == 403
    assert System.objects.count() == 2


def test_the_list_costs_the_same_queries_for_many_systems_as_for_one(curlew, kit_manager, sign_in):
    client = sign_in(kit_manager)
    client.get(reverse("systems"))
    with CaptureQueriesContext(connection) as one:
        client.get(reverse("systems"))
    for n in range(4):
        system = make_system(f"Wren {n}", slug=f"wren-{n}")
        SystemPart.objects.create(system=system, item=make_item(name=f"part {n}", home_system=system))
    with CaptureQueriesContext(connection) as many:
        said = text(client.get(reverse("systems")))
    assert said.count("NOT READY") == 4
    assert len(many) == len(one)


def test_an_empty_list_says_what_to_do_next(db, kit_manager, staff, sign_in):
    assert "Name the first one below" in text(sign_in(kit_manager).get(reverse("systems")))
    assert "Ask the kit manager" in text(sign_in(staff).get(reverse("systems")))
