"""The administrator's desk: who enters, what is there to be read, what can be changed, and that changes are kept."""

from __future__ import annotations

import pytest
from django.apps import apps
from django.contrib import admin
from django.contrib.auth import get_user_model
from django.db import connection
from django.test import Client, RequestFactory
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.ledger import Fact, record
from inventory.models import (
    ClientReference,
    Entry,
    ItemType,
    Organisation,
    Person,
    Place,
    PlaceKind,
    RowChange,
    Verb,
)
from inventory.models.appendonly import AppendOnly
from tests.factories import IDA, T0, make_case, make_drive, make_place, make_type

OURS = [model for app in ("inventory", "shipping") for model in apps.get_app_config(app).get_models()]
# May be (added, changed, taken away) by an administrator. Whatever is not named here can only be read.
MAY = {
    Organisation: (True, True, False),
    Person: (True, True, False),
    Place: (True, True, False),
    ItemType: (True, True, False),
    ClientReference: (True, True, True),
}


@pytest.fixture
def chief(db):
    return get_user_model().objects.create_superuser("chief", password="lantern")


@pytest.fixture
def desk(chief):
    client = Client()
    client.force_login(chief)
    return client


def address(model, what="changelist", *args):
    return reverse(f"admin:{model._meta.app_label}_{model._meta.model_name}_{what}", args=args)


def text(response):
    return response.content.decode()


@pytest.mark.parametrize("model", OURS, ids=lambda model: model.__name__)
def test_every_table_is_there_and_gives_an_administrator_what_the_table_says(chief, model):
    request = RequestFactory().get("/admin/")
    request.user = chief
    known = admin.site.get_model_admin(model)
    may = (
        known.has_add_permission(request),
        known.has_change_permission(request),
        known.has_delete_permission(request),
    )
    assert known.has_view_permission(request)
    assert may == MAY.get(model, (False, False, False))


def test_no_table_that_is_only_added_to_can_be_written_here():
    assert not [model for model in AppendOnly.tables() if model in MAY]


@pytest.mark.parametrize("name", ["kit_manager", "road_lead", "crew", "staff", "client_person"])
def test_a_role_of_the_book_does_not_open_the_desk(sign_in, request, name):
    client = sign_in(request.getfixturevalue(name))
    for model in (Person, Entry):
        answer = client.get(address(model))
        assert answer.status_code == 302 and "/admin/login/" in answer["Location"]


def test_a_stranger_is_asked_to_sign_in(db):
    assert Client().get("/admin/").status_code == 302


def test_the_ledger_is_read_and_never_written(desk):
    drive = make_drive("71B0AK")
    (entry,) = record([Fact(Verb.PLACED, drive, place=make_place())], by=IDA, at=T0)
    assert str(entry.act) in text(desk.get(address(Entry, "change", entry.pk)))
    assert desk.post(address(Entry, "change", entry.pk), {"note": "never was"}).status_code == 403
    assert desk.post(address(Entry, "delete", entry.pk), {"post": "yes"}).status_code == 403
    assert desk.post(address(Entry, "add"), {}).status_code == 403
    tick_all = {"action": "delete_selected", "_selected_action": [str(entry.pk)], "post": "yes"}
    desk.post(address(Entry), tick_all)
    assert Entry.objects.get() == entry


def test_a_name_is_changed_with_who_and_what_stood_there(desk, kit_manager):
    person = Person.objects.get(name="Ida Penrake")
    body = {"name": "Ida Penrake", "phone": "01632 960200", "email": "", "organisation": person.organisation_id,
            "role": "kit manager", "deputy": "", "user": person.user_id}  # fmt: skip
    assert desk.post(address(Person, "change", person.pk), body).status_code == 302
    kept = RowChange.objects.get()
    assert (kept.field, kept.before, kept.after, kept.by) == ("phone", "", "01632 960200", "chief")
    person.refresh_from_db()
    assert (person.phone, person.user_id) == ("01632 960200", body["user"])


def test_a_new_row_is_kept_as_added_and_a_bad_one_is_refused(desk):
    assert desk.post(address(Organisation, "add"), {"name": ""}).status_code == 200
    assert not RowChange.objects.exists()
    assert desk.post(address(Organisation, "add"), {"name": "Brambleside Hire"}).status_code == 302
    kept = RowChange.objects.get()
    assert (kept.words, kept.after, kept.table) == ("Brambleside Hire", "added", "inventory.organisation")


def test_the_inside_of_a_case_is_read_and_a_store_is_changed(desk, db):
    store, case = make_place("Mill Yard"), make_case("HER-03")
    body = {
        "name": "Mill Yard",
        "kind": PlaceKind.STORE,
        "purpose": "stock",
        "parent": "",
        "time_zone": "",
        "note": "x",
    }
    assert desk.post(address(Place, "change", store.pk), body).status_code == 302
    assert desk.post(address(Place, "change", case.inside.pk), body).status_code == 403
    assert [one.field for one in RowChange.objects.filter(row=store.pk)] == ["note"]


def test_what_a_client_may_see_is_given_and_taken_away_and_both_are_kept(desk, client_person):
    assert (
        desk.post(address(ClientReference, "add"), {"person": client_person.pk, "reference": "FMC"}).status_code == 302
    )
    given = ClientReference.objects.get()
    assert desk.post(address(ClientReference, "delete", given.pk), {"post": "yes"}).status_code == 302
    assert not ClientReference.objects.exists()
    assert [one.after for one in RowChange.objects.order_by("id")] == ["added", "taken away"]


def test_a_list_costs_the_same_queries_for_many_rows_as_for_few(desk):
    make_type("cord")
    desk.get(address(ItemType))
    with CaptureQueriesContext(connection) as few:
        desk.get(address(ItemType))
    for n in range(20):
        make_type(f"cord {n}")
    with CaptureQueriesContext(connection) as many:
        desk.get(address(ItemType))
    assert len(many) == len(few)
