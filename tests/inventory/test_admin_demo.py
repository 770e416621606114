"""The administrator's desk over a whole book."""

from __future__ import annotations

from django.contrib.auth import get_user_model
from django.test import Client

from tests.inventory.test_admin import OURS, address


def test_every_list_and_one_row_of_each_table_opens(tonight):
    desk, seen = Client(), 0
    desk.force_login(get_user_model().objects.create_superuser("chief", password="lantern"))
    for model in OURS:
        assert desk.get(address(model)).status_code == 200, model
        row = model._default_manager.first()
        if row is not None:
            assert desk.get(address(model, "change", row.pk)).status_code == 200, model
            seen += 1
    assert seen > 30
