"""A world that was kept and put back is the world that was loaded, to the last row."""

from __future__ import annotations

from django.db import connection, transaction

from inventory.models import Entry, Holding, Item, Wipe
from shipping.demo.loading import load
from shipping.models import BorderLine
from tests.factories import T0
from tests.keeping import load_and_keep, put_back

SEVERAL = (Item, Entry, Holding, Wipe, BorderLine)


def everything() -> dict[str, list[tuple[object, ...]]]:
    return {model.__name__: list(model.objects.order_by("pk").values_list()) for model in SEVERAL}


def test_what_is_put_back_is_what_was_loaded(db):
    with transaction.atomic():
        world, kept = load_and_keep(lambda: load(T0))
        loaded = everything()
        transaction.set_rollback(True)
    assert not Item.objects.exists()
    again = put_back(kept)
    connection.check_constraints()
    assert everything() == loaded
    assert {name: item.pk for name, item in again.things.items()} == {name: i.pk for name, i in world.things.items()}
    assert again.things["HER-07"].inside == world.things["HER-07"].inside


def test_what_is_added_to_it_collides_with_nothing(db):
    with transaction.atomic():
        _, kept = load_and_keep(lambda: load(T0))
        transaction.set_rollback(True)
    world = put_back(kept)
    world.do("wes", "-1m", "seen", "HER-07")
    newest = Item.objects.order_by("-pk").first()
    copy = Item.objects.create(type=newest.type, owner=newest.owner, added_at=T0)
    assert copy.pk > newest.pk
