"""On a case's page: the sum beside the scale, and what would explain the difference."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.ledger import Fact, record
from inventory.models import Grade, Kind, Verb
from shipping.case_sheet import sheet_of
from tests.factories import IDA, make_item, make_type
from tests.shipping.packed import make_heron, stand


@pytest.fixture
def heron(db):
    """HER-03: 5 kg of shell and three drives of 0.7 kg, 7.1 kg in all."""
    return make_heron(at=timezone.now() - timedelta(hours=2))


def weigh(case, grams):
    record([Fact(Verb.WEIGHED, case, mass_g=grams, grade=Grade.SCAN)], by=IDA, at=timezone.now())
    return sheet_of(case, timezone.now()).weighing


def test_one_of_three_alike_drives_is_short_and_said_to_be_any_of_them(heron):
    found = weigh(heron.box, 6400)
    assert found.answer == "differs" and found.count == 1
    assert (
        "or one of 2 alike" in found.explained[0].sentence and "0.7 kg less: not in it" in found.explained[0].sentence
    )


def test_too_heavy_names_a_loose_thing_of_the_same_system_and_where_the_book_has_it(heron, kit_manager, sign_in):
    key = make_item(
        make_type("Ebbmark fan tray", mass_kg="1.200", kind=Kind.OTHER), home_system=heron.set.host, name="fan tray"
    )
    make_item(make_type("far thing", mass_kg="1.200"))
    heron.box.home_system = heron.set.host
    heron.box.save()
    stand(key)
    found = weigh(heron.box, 8300)
    assert found.count == 1 and found.explained[0].changes[0].ids == {key.pk}
    body = sign_in(kit_manager).get(reverse("case", args=["HER-03"])).content.decode()
    assert "fan tray, 1.2 kg more: in it besides" in body and "A mass only hints" in body


def test_a_scale_that_agrees_says_nothing_more(heron, kit_manager, sign_in):
    assert weigh(heron.box, 7150).answer == "agrees"
    assert "A mass only hints" not in sign_in(kit_manager).get(reverse("case", args=["HER-03"])).content.decode()
