"""A long list of choices reads to a browser as Django's own does."""

from __future__ import annotations

import pytest
from django import forms
from django.test.html import parse_html

from inventory.forms.selects import LongSelect

CHOICES = [("", "anybody"), (1, "Ida & Jo"), ("two", '<b>"Wes"</b>'), (3, "Ana Rell")]


@pytest.mark.parametrize("value", [None, "", 1, "1", "two", "nobody"])
def test_it_writes_what_djangos_select_writes(value):
    ours, theirs = (
        kind({"class": "wide"}, CHOICES).render("owner", value, {"id": "id_owner", "aria-describedby": "help"})
        for kind in (LongSelect, forms.Select)
    )
    assert parse_html(ours) == parse_html(theirs)
