"""Cases that travel together, and the legs they travel."""

from __future__ import annotations

from django.db import models

from inventory.models import Item, Place
from shipping.models.shows import Show


class Mode(models.TextChoices):
    ROAD = "road", "road"
    AIR = "air", "air"
    SEA = "sea", "sea"
    COURIER = "courier", "courier"


class Consignment(models.Model):
    """Cases that travel together. One that splits off names the one it came from."""

    show = models.ForeignKey(Show, models.CASCADE, related_name="consignments")
    name = models.CharField(max_length=60)
    split_from = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="splits")
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [models.UniqueConstraint(fields=["show", "name"], name="one_consignment_per_name")]

    def __str__(self) -> str:
        return f"{self.show.code} {self.name}"


class ConsignmentCase(models.Model):
    """Case n of N of this consignment. The case's own number never changes."""

    consignment = models.ForeignKey(Consignment, models.CASCADE, related_name="cases")
    case = models.ForeignKey(Item, models.PROTECT, related_name="consignments")
    position = models.PositiveSmallIntegerField()
    to_room = models.CharField(max_length=60, blank=True)
    first_off = models.BooleanField(default=False)

    class Meta:
        ordering = ["position"]
        constraints = [models.UniqueConstraint(fields=["consignment", "case"], name="one_case_per_consignment")]

    def __str__(self) -> str:
        return f"{self.case} in {self.consignment}"


class Leg(models.Model):
    consignment = models.ForeignKey(Consignment, models.CASCADE, related_name="legs")
    position = models.PositiveSmallIntegerField()
    mode = models.CharField(max_length=8, choices=Mode, default=Mode.ROAD)
    vehicle = models.ForeignKey(Item, models.PROTECT, null=True, blank=True, related_name="legs")
    carrier = models.CharField(max_length=120, blank=True)
    waybill = models.CharField(max_length=60, blank=True)
    driver = models.CharField(max_length=120, blank=True)
    driver_phone = models.CharField(max_length=40, blank=True)
    from_place = models.ForeignKey(Place, models.PROTECT, related_name="legs_out")
    to_place = models.ForeignKey(Place, models.PROTECT, related_name="legs_in")
    road = models.OneToOneField(Place, models.PROTECT, related_name="leg", help_text="Where it is while it moves.")
    departs_at = models.DateTimeField(null=True, blank=True, help_text="As planned.")
    arrives_at = models.DateTimeField(null=True, blank=True, help_text="As planned.")
    crosses_border = models.BooleanField(default=False)
    passenger_aircraft = models.BooleanField(default=False)
    as_baggage = models.BooleanField("flies as somebody's checked baggage", default=False)

    class Meta:
        ordering = ["consignment", "position"]
        constraints = [models.UniqueConstraint(fields=["consignment", "position"], name="one_leg_per_position")]

    def __str__(self) -> str:
        return f"{self.consignment}: {self.from_place} to {self.to_place}"
