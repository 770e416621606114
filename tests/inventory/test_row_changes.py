"""Kinds, places, people: who changed what, when, on their own pages."""

import pytest
from django.urls import reverse

from inventory.models import RowChange
from inventory.models.appendonly import AppendOnlyError
from tests.factories import make_place, make_type


def text(response):
    return response.content.decode()


def test_a_changed_place_says_who_changed_what_on_its_page(kit_manager, staff, sign_in):
    shelf = make_place("shelf A1", "shelf")
    body = {"name": "shelf A2", "kind": "shelf", "purpose": "stock", "note": "by the door"}
    assert sign_in(kit_manager).post(reverse("place-edit", args=[shelf.pk]), body).status_code == 302
    said = text(sign_in(staff).get(reverse("place", args=[shelf.pk])))
    assert "Ida Penrake" in said and "name was “shelf A1”, now “shelf A2”" in said
    assert "note was empty, now “by the door”" in said
    assert RowChange.objects.count() == 2


def test_a_person_and_a_kind_keep_their_changes_too(kit_manager, sign_in):
    client, kind = sign_in(kit_manager), make_type("Pane 24", "Kittiwade", mass_kg=5)
    person = {"name": "Ida Penrake", "phone": "01632 960200", "role": "kit manager"}
    assert client.post(reverse("person-edit", args=[kit_manager.pk]), person).status_code == 302
    assert "now “01632 960200”" in text(client.get(reverse("person-edit", args=[kit_manager.pk])))
    form = client.get(reverse("item-type", args=[kind.pk])).context["form"]
    body = {name: "" if value is None else value for name, value in form.initial.items()} | {"mass_kg": "6"}
    body = {name: value for name, value in body.items() if value is not False}
    assert client.post(reverse("item-type", args=[kind.pk]), body).status_code == 302
    (kept,) = RowChange.objects.filter(table="inventory.itemtype")
    assert (kept.field, kept.before, kept.after) == ("mass kg", "5.000", "6.000")
    assert "mass kg was “5.000”" in text(client.get(reverse("item-type", args=[kind.pk])))


def test_a_form_that_is_refused_or_changes_nothing_keeps_nothing(kit_manager, sign_in):
    client, yard = sign_in(kit_manager), make_place("Mill Yard")
    same = {"name": "Mill Yard", "kind": "store", "purpose": "stock"}
    assert client.post(reverse("place-edit", args=[yard.pk]), same).status_code == 302
    assert client.post(reverse("place-edit", args=[yard.pk]), {"name": ""}).status_code == 422
    assert not RowChange.objects.exists()


def test_what_was_kept_is_never_changed(kit_manager, sign_in):
    yard = make_place("Mill Yard")
    body = {"name": "Mill Yards", "kind": "store", "purpose": "stock"}
    sign_in(kit_manager).post(reverse("place-edit", args=[yard.pk]), body)
    kept = RowChange.objects.get()
    with pytest.raises(AppendOnlyError):
        RowChange.objects.filter(pk=kept.pk).update(by="nobody")
    with pytest.raises(AppendOnlyError):
        kept.delete()


def test_a_form_filled_in_while_another_changed_the_row_keeps_what_was_typed_and_says_who(kit_manager, sign_in):
    yard = make_place("Mill Yard")
    address, client = reverse("place-edit", args=[yard.pk]), sign_in(kit_manager)
    shown = client.get(address).context["seen"]
    body = {"name": "Mill Yard", "kind": "store", "purpose": "stock", "seen": shown}
    assert client.post(address, body | {"note": "mind the step " * 12}).status_code == 302
    refused = client.post(address, body | {"note": "keys at the lodge"})
    assert refused.status_code == 422
    assert "Ida Penrake changed this while you were typing: note is now" in text(refused)
    assert "keys at the lodge" in text(refused)
    yard.refresh_from_db()
    assert yard.note.startswith("mind the step") and RowChange.objects.get(field="note").after == yard.note
    again = client.post(address, body | {"note": "keys at the lodge", "seen": refused.context["seen"]})
    assert again.status_code == 302
    newest = RowChange.objects.first()
    assert newest.before == yard.note and (newest.after, newest.by) == ("keys at the lodge", "Ida Penrake")
