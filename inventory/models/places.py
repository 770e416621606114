"""Anywhere an item can be. Packed, fitted, loaded and placed are one relation at different depths."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db import models
from django.db.models import Q
from django.db.models.expressions import RawSQL

from inventory.folding import natural
from inventory.models.people import Person
from inventory.models.things import Item


class PlaceKind(models.TextChoices):
    STORE = "store", "store"
    SHELF = "shelf", "shelf"
    ROOM = "room", "room"
    VENUE = "venue", "venue"
    PERSON = "person", "person"
    ROAD = "road", "road"
    INSIDE = "inside", "inside"
    GONE = "gone", "gone"


class Purpose(models.TextChoices):
    STOCK = "stock", "stock"
    QUARANTINE = "quarantine", "quarantine"
    BENCH = "bench", "wipe bench"
    EMPTIES = "empties", "store of empties"


# A place, the places that are parts of it, and the insides of what stands in them, at any depth. UNION ends loops.
WITHIN = """
WITH RECURSIVE edges AS MATERIALIZED (
    SELECT parent_id AS outer_id, id AS inner_id FROM inventory_place WHERE parent_id IS NOT NULL
    UNION ALL
    SELECT h.place_id, p.id FROM inventory_place p JOIN inventory_holding h ON h.item_id = p.item_id
    WHERE h.place_id IS NOT NULL),
within_it (id) AS (
    SELECT CAST(%s AS bigint)
    UNION
    SELECT edges.inner_id FROM edges JOIN within_it ON edges.outer_id = within_it.id)
SELECT id FROM within_it"""

# Of some places, those that a place is above, at any depth, or that are it: of few, sooner told than all that is in it.
BELOW = """
WITH RECURSIVE above (id, outer_id) AS (
    SELECT id, id FROM inventory_place WHERE id IN ({some})
    UNION
    SELECT above.id, COALESCE(p.parent_id, h.place_id) FROM above JOIN inventory_place p ON p.id = above.outer_id
    LEFT JOIN inventory_holding h ON h.item_id = p.item_id WHERE COALESCE(p.parent_id, h.place_id) IS NOT NULL)
SELECT id FROM above WHERE outer_id = %s"""


class PlaceQuerySet(models.QuerySet["Place"]):
    def within(self, place: Place) -> PlaceQuerySet:
        """This place and every place in it, by present knowledge."""
        return self.filter(pk__in=RawSQL(WITHIN, [place.pk]))

    def of_these_within(self, some: Sequence[int], place: Place) -> PlaceQuerySet:
        """The same, but only of these few places."""
        marks = ", ".join(["%s"] * len(some)) or "NULL"
        return self.filter(pk__in=RawSQL(BELOW.format(some=marks), [*some, place.pk]))

    def as_people_sort(self, *, backwards: bool = False) -> PlaceQuerySet:
        """By what they are called, 2 before 10; of two called alike, the one that came into the book first."""
        return self.order_by("-sort_key", "-pk") if backwards else self.order_by("sort_key", "pk")


class Place(models.Model):
    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=8, choices=PlaceKind)
    purpose = models.CharField(max_length=12, choices=Purpose, default=Purpose.STOCK)
    item = models.OneToOneField(Item, models.PROTECT, null=True, blank=True, related_name="inside")
    person = models.OneToOneField(Person, models.PROTECT, null=True, blank=True, related_name="hands")
    parent = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="parts")
    time_zone = models.CharField(max_length=60, blank=True, help_text="At the top place only.")
    is_ours = models.BooleanField(default=False, help_text="Ours to lock: a store, a shelf in it, a vehicle.")
    note = models.CharField(max_length=200, blank=True)
    sort_key = models.BinaryField(null=True, editable=False)  # of what it is called; inventory/place_order.py keeps it

    objects = PlaceQuerySet.as_manager()

    class Meta:
        ordering = ["name"]
        indexes = [models.Index(fields=["sort_key", "id"], name="place_as_people_sort")]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind="inside", item__isnull=False, parent__isnull=True)
                | (~Q(kind="inside") & Q(item__isnull=True)),
                name="a_place_inside_names_its_container",
            ),
            models.CheckConstraint(
                condition=Q(kind="person", person__isnull=False) | (~Q(kind="person") & Q(person__isnull=True)),
                name="a_persons_place_names_the_person",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def save(self, *args: Any, **kwargs: Any) -> None:
        self.refresh_keys()
        fields = kwargs.get("update_fields")
        if fields is not None:
            kwargs["update_fields"] = {*fields, "sort_key"}
        super().save(*args, **kwargs)

    def refresh_keys(self) -> None:
        """Keep its place in lists in step with its words; bulk writers call this themselves."""
        self.sort_key = natural(self.called)

    @property
    def called(self) -> str:
        """What lists call it: the thing it is the inside of, else by its own name."""
        return str(self.item) if self.item else self.name
