"""Anywhere an item can be. Packed, fitted, loaded and placed are one relation at different depths."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

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

    class Meta:
        ordering = ["name"]
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
