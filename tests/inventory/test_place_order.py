"""Each place stands in lists by what it is called now, whichever of the words changed and whoever changed them."""

from __future__ import annotations

import json
import random
import re
from importlib import import_module

import pytest
from django.apps import apps
from django.core.management import call_command
from django.db import IntegrityError, transaction
from hypothesis import given
from hypothesis import strategies as st

from inventory import ledger, place_order
from inventory.folding import natural
from inventory.models import Holding, Item, Place, PlaceKind
from tests.factories import IDA, T0, make_case, make_case_type, make_item, make_owner, make_place
from tests.inventory.sheets import bring_in

NAMES = st.text("0129 -aAß.é\U0001f600", max_size=9) | st.text(max_size=9)


def as_parts(text: str) -> list[str | int]:
    """The rule, said once more in the plainest way: numbers as numbers, up to 18 digits at a time."""
    found = re.split("([0-9]{1,18})", text.casefold())
    return [int(part) if nth % 2 else part for nth, part in enumerate(found)]


@given(NAMES, NAMES)
def test_keys_sort_as_words_and_numbers_do(one, other):
    one, other = one.replace("\0", ""), other.replace("\0", "")
    assert (natural(one) < natural(other)) == (as_parts(one) < as_parts(other))
    assert (natural(one) == natural(other)) == (as_parts(one) == as_parts(other))


def names() -> list[str]:
    """All places, as the database sorts them."""
    return [place.called for place in Place.objects.as_people_sort().select_related("item__type")]


@pytest.mark.django_db
class TestFollowing:
    def test_the_database_sorts_as_people_do(self):
        for name in ("Hall 10", "hall 2", "Attic", "Hall 1", "élan"):
            make_place(name, PlaceKind.ROOM)
        assert names() == ["Attic", "Hall 1", "hall 2", "Hall 10", "élan"]
        assert [one.called for one in Place.objects.as_people_sort(backwards=True)] == names()[::-1]

    def test_it_follows_a_place_that_is_called_otherwise(self):
        place = make_place("Zinnia room", PlaceKind.ROOM)
        make_place("Middle", PlaceKind.ROOM)
        place.name = "Apple room"
        place.save(update_fields=["name"])
        assert names() == ["Apple room", "Middle"]

    def test_it_follows_the_number_of_a_case(self):
        case, _ = make_case("HER-10"), make_case("HER-3")
        ledger.amend(case, "painted anew", by=IDA, at=T0, number="HER-2")
        assert names() == ["HER-2", "HER-3"]

    def test_it_follows_what_a_kind_is_called_where_the_case_has_no_number(self):
        flight = make_case_type("Flight case")
        make_item(flight), make_case("G-1")
        flight.maker, flight.name = "Ashdown", "Trunk"
        flight.save()
        assert names() == ["Ashdown Trunk", "G-1"]

    def test_it_follows_a_serial_and_a_name_of_its_own(self):
        one, two = make_item(make_case_type(), serial="S-2"), make_item(make_case_type(), serial="S-1")
        two.name = "Zoe's"
        two.save(update_fields=["name"])
        one.serial = "S-9"
        one.save()
        assert names() == [str(one), str(two)] == ["Fettlewick Hand case S-9", "Zoe's S-1"]

    def test_what_is_undone_is_undone_for_the_order_too(self):
        case, _ = make_case("HER-2"), make_case("HER-3")
        with pytest.raises(IntegrityError), transaction.atomic():
            ledger.amend(case, "painted anew", by=IDA, at=T0, number="HER-9")
            Item.objects.create(type=case.type, number="HER-3", owner=make_owner(), added_at=T0)
        assert names() == ["HER-2", "HER-3"]

    def test_a_thing_that_keeps_its_words_asks_nothing_of_places(self, django_assert_num_queries):
        case = make_case("HER-2")
        case.note = "a wheel is loose"
        with django_assert_num_queries(1):
            case.save(update_fields=["note"])

    def test_a_sheet_brings_cases_in_where_they_belong(self):
        cases = [["Rack case", "Fettlewick", f"HER-{n}", "Heron"] for n in (10, 2, 7)]
        bring_in([["item", "maker", "case no", "system"], *cases])
        assert [name for name in names() if name.startswith("HER")] == ["HER-2", "HER-7", "HER-10"]
        assert not list(place_order.out_of_order(Place.objects.all()))


@pytest.mark.django_db
class TestChecking:
    def test_an_older_book_is_put_in_order_as_it_is_brought_up_to_date(self):
        make_case("HER-10"), make_case("HER-2"), make_place("Attic"), make_item(make_case_type("Trunk"), serial="S1")
        before = names()
        Place.objects.update(sort_key=None)
        import_module("inventory.migrations.0011_places_in_order").fill(apps, None)
        assert names() == before and not list(place_order.out_of_order(Place.objects.all()))

    def test_the_audit_finds_a_place_that_does_not_stand_where_its_name_belongs(self, capsys):
        make_case("HER-2")
        Place.objects.update(sort_key=natural("ZZ"))
        with pytest.raises(SystemExit):
            call_command("audit_ledger")
        assert "Lists by place do not have HER-2 where its name belongs." in capsys.readouterr().out
        call_command("audit_ledger", "--mend", "--json")
        found = json.loads(capsys.readouterr().out)
        assert found["answer"] == "mended"
        assert "Places that stood in lists where they do not belong: 1." in found["sentence"]
        call_command("audit_ledger")


@pytest.mark.django_db
def test_of_few_places_those_within_another_are_those_that_are_in_it():
    """Upwards from each as downwards from the place, whatever stands in what, rings too."""
    draw = random.Random(5)
    cases = [make_case(f"HER-{n}") for n in range(12)]
    rooms = [make_place("Hall")]
    rooms += [make_place(f"Room {n}", PlaceKind.ROOM, parent=draw.choice(rooms)) for n in range(4)]
    spots = [*rooms, *(case.inside for case in cases)]
    Holding.objects.bulk_create(Holding(item=case, place=draw.choice(spots)) for case in cases[:-1])
    for place in spots:
        within = set(Place.objects.within(place))
        for many in (0, 1, 5, len(spots)):
            some = draw.sample(spots, many)
            few = Place.objects.of_these_within([one.pk for one in some], place)
            assert set(few) == within.intersection(some)
