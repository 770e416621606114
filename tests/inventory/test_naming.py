"""Which thing a person means."""

import pytest

from inventory.models import ItemAlias
from inventory.naming import item_named, label_named
from tests.factories import T0, make_case, make_item, make_type

pytestmark = pytest.mark.django_db


def test_a_code_is_read_in_any_case_and_from_an_address_of_any_host():
    case = make_case("HER-04")
    code = case.labels.get().code
    for text in (
        code,
        code.lower(),
        f" {code} ",
        f"HTTPS://GEAR.EXAMPLE.ORG/T/{code}",
        f"http://10.0.0.7:8000/t/{code.lower()}",
    ):
        assert item_named(text) == case
        assert label_named(text).code == code


def test_a_number_a_former_number_and_a_serial_name_an_item():
    case = make_case("GEN-03")
    ItemAlias.objects.create(item=case, number="CBL-01", since=T0)
    pane = make_item(serial="KW-24/0091")
    assert item_named("gen-03") == case
    assert item_named("CBL-01") == case
    assert item_named("kw 24/0091") == pane


def test_a_serial_that_two_makers_used_names_nobody():
    make_item(serial="0091")
    make_item(make_type("Mutterby", "Merrowby"), serial="0091")
    assert item_named("0091") is None


def test_nothing_and_nonsense_name_nothing():
    assert item_named("") is None
    assert item_named("NO-SUCH") is None
    assert label_named("https://gear.example.org/T/") is None
