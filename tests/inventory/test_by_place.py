"""The list of things by place: place after place as people sort them, whatever page is asked for, either way."""

from __future__ import annotations

import random
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory import handling
from inventory.folding import natural
from inventory.models import Holding, Item, Place, PlaceKind
from inventory.tables import by_place
from inventory.tables.by_place import ByPlace
from inventory.tables.things import ThingTable, lines
from tests.factories import IDA, T0, make_case, make_item, make_place

pytestmark = pytest.mark.django_db


def put(place: Place, *bays: str) -> list[Item]:
    things = [make_item() for _ in bays]
    Holding.objects.bulk_create(Holding(item=one, place=place, bay=bay) for one, bay in zip(things, bays, strict=True))
    return things


def keys(found: ByPlace) -> list[int]:
    return list(found.keys())


def everything(**said: object) -> ByPlace:
    return ByPlace(Item.objects.filter(number=None), None, **said)


def test_names_sort_as_people_sort_them():
    names = ["HER-10", "her-2", "HER-1", "Bay", "2 Mill Lane", "10 Mill Lane", ""]
    assert sorted(names, key=natural) == ["", "2 Mill Lane", "10 Mill Lane", "Bay", "HER-1", "her-2", "HER-10"]


def test_places_come_by_what_the_list_calls_them():
    ten, room, two = make_case("HER-10"), make_place("Apple room", PlaceKind.ROOM), make_case("HER-2")
    found = [put(place, "")[0].pk for place in (ten.inside, room, two.inside)]
    assert keys(everything()) == [found[1], found[2], found[0]]


def test_bays_are_counted_and_what_has_none_stands_first():
    ten, two, none, letter = put(make_case("HER-1").inside, "10", "2", "", "A")
    assert keys(everything()) == [none.pk, two.pk, ten.pk, letter.pk]


def test_what_is_nowhere_stands_last_and_in_no_place():
    nowhere = make_item()
    known = put(room := make_place("Apple room", PlaceKind.ROOM), "")[0]
    assert keys(everything()) == [known.pk, nowhere.pk]
    assert keys(ByPlace(Item.objects.all(), room)) == [known.pk]


@pytest.fixture
def crowded(monkeypatch) -> list[int]:
    """Places of all kinds, some with more things than are read together, in an order drawn by chance."""
    for name, many in {"NEAR": 3, "FEW": 1, "MOST": 4, "MANY": 3, "TOGETHER": 2}.items():
        monkeypatch.setattr(by_place, name, many)
    draw = random.Random(7)
    spots = [make_case(f"HER-{n}").inside for n in range(8, 13)]
    spots += [make_place(name, PlaceKind.ROOM) for name in ("Attic", "Hall 2", "Hall 10", "hall 3", "Yard")]
    for place in draw.sample(spots, len(spots)):
        put(place, *([""] * draw.randint(0, 9) if place.item_id is None else draw.choices(["", "1", "2", "10"], k=5)))
    make_item()
    return [one.pk for one in sorted(Item.objects.filter(number=None).select_related("holding__place__item"), key=rank)]


def rank(item: Item) -> tuple[object, ...]:
    """The rule, said once more in the plainest way."""
    if not hasattr(item, "holding"):
        return (1, (), (), item.pk)
    place = item.holding.place
    return (0, natural(str(place.item or place.name)), natural(item.holding.bay) if place.item else (), item.pk)


def test_many_places_are_read_in_steps_and_come_in_order(crowded):
    assert keys(everything()) == crowded
    assert keys(everything(backwards=True)) == crowded[::-1]


@pytest.mark.parametrize("backwards", [False, True])
def test_what_is_stepped_over_is_the_beginning_of_the_list(crowded, backwards):
    wanted = crowded[::-1] if backwards else crowded
    for start in range(len(wanted) + 2):
        assert list(everything(backwards=backwards).keys(start)) == wanted[start:]


@pytest.mark.parametrize("backwards", [False, True])
def test_a_list_within_a_place_is_that_part_of_the_whole_list(crowded, backwards):
    for place in Place.objects.filter(holdings__isnull=False).distinct():
        inside = set(Item.objects.filter(holding__place__in=Place.objects.within(place)).values_list("pk", flat=True))
        wanted = [key for key in (crowded[::-1] if backwards else crowded) if key in inside]
        found = ByPlace(Item.objects.filter(number=None), place, backwards=backwards)
        assert keys(found) == wanted and list(found.keys(2)) == wanted[2:]


def test_every_page_of_the_table_is_a_part_of_the_same_list(crowded):
    for sort, wanted in (("place", crowded), ("-place", crowded[::-1])):
        table = ThingTable(lines(Item.objects.filter(number=None)), order_by=(sort,))
        told = [row.pk for start in range(0, len(crowded) + 4, 4) for row in table.data[start : start + 4]]
        assert told == wanted
        assert [row.record.pk for row in table.rows] == wanted


def test_the_list_in_a_place_holds_what_is_under_it_and_fits_the_rest(sign_in, kit_manager):
    attic, case = make_place("Attic", PlaceKind.ROOM), make_case("HER-2")
    handling.put([case], attic, by=IDA, at=T0)
    handling.put([make_item(serial="IN-1"), make_item(serial="IN-2", retired_at=T0)], case.inside, by=IDA, at=T0)
    handling.put([make_item(serial="OUT-1")], make_place("Yard"), by=IDA, at=T0 + timedelta(minutes=1))
    page = sign_in(kit_manager).get("/things/", {"sort": "place", "place": attic.pk}).content.decode()
    assert ("IN-1" in page, "IN-2" in page, "OUT-1" in page) == (True, False, False)


def test_a_first_page_asks_the_same_however_much_there_is(sign_in, kit_manager):
    ida = sign_in(kit_manager)
    put(make_place("Attic"), "")
    with CaptureQueriesContext(connection) as few:
        ida.get("/things/", {"sort": "place"})
    for number in range(30):
        put(make_case(f"HER-{number}").inside, *["", "1", "2"])
    with CaptureQueriesContext(connection) as many:
        ida.get("/things/", {"sort": "place"})
    assert len(many) <= len(few)


def test_things_with_numbers_stand_before_others_on_every_page():
    cases = [make_case(f"HER-{n}") for n in (3, 1, 2)]
    others = [make_item(serial=serial) for serial in ("K2", "K1")]
    for sort, wanted in (("called", [1, 2, 0]), ("-called", [0, 2, 1])):
        last = [others[1], others[0]] if sort == "called" else others
        table = ThingTable(lines(Item.objects.all()), order_by=(sort,))
        for size in (1, 2, 3, 5):
            told = [one.pk for start in range(0, 6, size) for one in table.data[start : start + size]]
            assert told == [cases[n].pk for n in wanted] + [one.pk for one in last]
