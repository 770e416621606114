"""The order of places over a whole book."""

from __future__ import annotations

from inventory import place_order
from inventory.models import Place


def test_every_place_of_the_demo_stands_where_its_name_belongs(tonight):
    assert Place.objects.exists() and not list(place_order.out_of_order(Place.objects.all()))
