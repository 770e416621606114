"""A job from dock to dock, and what is booked onto it."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from inventory.models import DriveSet, Item, Organisation, Person, Place, System


class Show(models.Model):
    """One job. Its code never changes; its name may."""

    code = models.CharField(max_length=30, unique=True)
    name = models.CharField(max_length=120)
    client = models.ForeignKey(Organisation, models.PROTECT, null=True, blank=True, related_name="shows")
    venue = models.ForeignKey(Place, models.PROTECT, null=True, blank=True, related_name="shows")
    leaves_at = models.DateTimeField(help_text="Prep day: from here on the gear is not free.")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    back_at = models.DateTimeField(help_text="Back, checked in and wiped.")
    abroad = models.BooleanField(default=False, help_text="Crosses a customs border.")
    discreet = models.BooleanField(default=False)
    contact = models.CharField(max_length=200, blank=True)
    lead = models.ForeignKey(
        Person, models.SET_NULL, null=True, blank=True, related_name="+", help_text="Road lead; empty: any of them."
    )
    cancelled_at = models.DateTimeField(null=True, blank=True)
    cancelled_why = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["starts_at"]
        constraints = [
            models.CheckConstraint(
                condition=Q(leaves_at__lte=F("starts_at"))
                & Q(starts_at__lte=F("ends_at"))
                & Q(ends_at__lte=F("back_at")),
                name="show_times_in_order",
            )
        ]

    def __str__(self) -> str:
        return self.name


class Booking(models.Model):
    """A system, a set or a single thing promised to a show."""

    show = models.ForeignKey(Show, models.CASCADE, related_name="bookings")
    system = models.ForeignKey(System, models.PROTECT, null=True, blank=True, related_name="bookings")
    drive_set = models.ForeignKey(DriveSet, models.PROTECT, null=True, blank=True, related_name="bookings")
    item = models.ForeignKey(Item, models.PROTECT, null=True, blank=True, related_name="bookings")
    booked_at = models.DateTimeField()
    booked_by = models.CharField(max_length=120)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(system__isnull=False, drive_set=None, item=None)
                | Q(system=None, drive_set__isnull=False, item=None)
                | Q(system=None, drive_set=None, item__isnull=False),
                name="booking_names_one_thing",
            ),
            models.UniqueConstraint(fields=["show", "system"], name="one_booking_per_system"),
            models.UniqueConstraint(fields=["show", "drive_set"], name="one_booking_per_set"),
            models.UniqueConstraint(fields=["show", "item"], name="one_booking_per_item"),
        ]

    def __str__(self) -> str:
        return f"{self.system or self.drive_set or self.item} on {self.show}"
