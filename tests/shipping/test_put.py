"""Things read as rows are named and placed in the words of the models that they stand for."""

from __future__ import annotations

import pytest

from inventory.ledger import Fact, record
from inventory.models import Holding, Item, Person, PlaceKind, Verb
from shipping.planning.pieces import name_of
from shipping.planning.put import put
from shipping.planning.rows import place_words
from tests.factories import IDA, T0, make_case, make_item, make_place

pytestmark = pytest.mark.django_db


def test_a_row_says_what_the_model_says():
    case, unnumbered = make_case("HER-04"), make_case(None, serial="C-991")
    things = [make_item(serial=f"S{n}77001") for n in range(6)]
    ida = Person.objects.create(name="Ida Penrake")
    places = [
        make_place(), make_place("Ida Penrake", kind=PlaceKind.PERSON, person=ida),
        make_place("gone", kind=PlaceKind.GONE), case.inside, unnumbered.inside,
    ]  # fmt: skip
    for thing, place in zip(things, places, strict=False):
        record([Fact(Verb.PLACED, thing, place=place)], by=IDA, at=T0)
    rows = {row.pk: row for row in put([one.pk for one in (*things, case)])}
    for item in Item.objects.select_related("type").filter(pk__in=rows):
        holding = Holding.objects.select_related("place__item__type").filter(item=item).first()
        row = rows[item.pk]
        assert (row.words, row.where) == (name_of(item), place_words(holding))
        assert (row.mass_kg, row.kind) == (item.type.mass_kg, item.type.kind)
    assert len({row.where for row in rows.values()}) == 6  # five places, and nothing where nobody said
