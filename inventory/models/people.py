"""Who: organisations, people, and who may decide about one show's content."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from inventory.models.appendonly import AppendOnly


class Role(models.TextChoices):
    KIT_MANAGER = "kit manager", "kit manager"
    ROAD_LEAD = "road lead", "road lead"
    CREW = "crew", "crew"
    STAFF = "staff", "staff"
    CLIENT = "client", "client"


class Organisation(models.Model):
    name = models.CharField(max_length=120, unique=True)
    is_ours = models.BooleanField(default=False)
    phone = models.CharField(max_length=40, blank=True)
    address = models.TextField(blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Person(models.Model):
    name = models.CharField(max_length=120, unique=True)
    phone = models.CharField(max_length=40, blank=True)
    email = models.EmailField(blank=True)
    organisation = models.ForeignKey(Organisation, models.PROTECT, null=True, blank=True, related_name="people")
    deputy = models.ForeignKey("self", models.SET_NULL, null=True, blank=True, related_name="stands_in_for")
    user = models.OneToOneField(settings.AUTH_USER_MODEL, models.SET_NULL, null=True, blank=True, related_name="person")
    role = models.CharField(max_length=12, choices=Role, default=Role.CREW)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class ClientReference(models.Model):
    """A show that a client may see, by its immutable code."""

    person = models.ForeignKey(Person, models.CASCADE, related_name="references")
    reference = models.CharField(max_length=30)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["person", "reference"], name="one_client_reference")]

    def __str__(self) -> str:
        return f"{self.person}: {self.reference}"


class Mandate(AppendOnly):
    """What was agreed for one show's content. A change is a new row."""

    reference = models.CharField(max_length=30, db_index=True)
    content_owner = models.ForeignKey(Organisation, models.PROTECT, related_name="mandates")
    copies = models.PositiveSmallIntegerField(default=2, help_text="Besides the drives themselves.")
    media = models.PositiveSmallIntegerField(default=2)
    elsewhere = models.PositiveSmallIntegerField(default=1)
    owners_document = models.CharField(max_length=200, blank=True, help_text="If fewer copies were agreed: where.")
    discreet = models.BooleanField(default=False)
    in_force_from = models.DateTimeField()
    entered_by = models.CharField(max_length=120)
    entered_at = models.DateTimeField()

    class Meta:
        ordering = ["reference", "in_force_from", "id"]

    def __str__(self) -> str:
        return f"{self.reference}: {self.content_owner}"


class MandatePerson(AppendOnly):
    """A person who may release, and why."""

    mandate = models.ForeignKey(Mandate, models.PROTECT, related_name="persons")
    person = models.ForeignKey(Person, models.PROTECT, related_name="mandates")
    why = models.CharField(max_length=200)

    def __str__(self) -> str:
        return f"{self.person} for {self.mandate}"
