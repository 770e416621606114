"""The ledger's rows. inventory/ledger.py is the only writer of Entry and Holding."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from inventory.models.appendonly import AppendOnly
from inventory.models.passes import DayPass, Device
from inventory.models.people import Person, Role
from inventory.models.places import Place
from inventory.models.things import DriveSet, Item, Label


class Verb(models.TextChoices):
    SEEN = "seen", "seen"
    PACKED = "packed", "packed"
    FITTED = "fitted", "fitted"
    PULLED = "pulled", "pulled"
    PLACED = "placed", "placed"
    LOADED = "loaded", "loaded"
    UNLOADED = "unloaded", "unloaded"
    DEPARTED = "departed", "departed"
    ARRIVED = "arrived", "arrived"
    HANDED_OVER = "handed over", "handed over"
    RECEIVED = "received", "received"
    JOINED = "joined", "joined the set"
    DROPPED = "dropped", "left the set"
    RECORDING = "recording", "recording"
    STOPPED = "stopped", "stopped recording"
    DECLARED_BLANK = "declared blank", "declared blank"
    CONTENT_GIVEN = "content given", "all its content given"
    FOREIGN = "foreign", "called foreign"
    SERIAL_READ = "serial read", "serial read"
    BROKEN_UP = "broken up", "set broken up"
    ERASED = "erased without release", "erased without release"
    SEALED = "sealed", "sealed"
    SEAL_BROKEN = "seal broken", "seal broken"
    COUNTED = "counted", "counted"
    WEIGHED = "weighed", "weighed"
    CHECKED = "checked", "checked"
    INSPECTED = "inspected", "inspected"
    FAULTED = "faulted", "fault reported"
    MENDED = "mended", "fault closed"
    QUARANTINED = "quarantined", "quarantined"
    LEFT = "left", "left in place"
    MISSED = "missed", "missed"
    FOUND = "found", "found"
    CONSUMED = "consumed", "consumed"
    WRITTEN_OFF = "written off", "written off"
    SIGNED = "signed", "signed"
    AMENDED = "amended", "amended"
    CORRECTED = "corrected", "corrected"


class Grade(models.TextChoices):
    SCAN = "scan", "scanned"
    TICK = "tick", "ticked by eye"
    SAID = "said", "said"
    IMPORT = "import", "imported"


# An entry of these verbs never moves anything and is never evidence of where a thing is (ledger P5).
PLACELESS = (Verb.MISSED, Verb.AMENDED, Verb.SIGNED, Verb.CORRECTED)
GONE = (Verb.CONSUMED, Verb.WRITTEN_OFF)
WITHOUT_LABEL = (Verb.CORRECTED, Verb.RECORDING, Verb.STOPPED, Verb.SIGNED, Verb.BROKEN_UP, Verb.CHECKED)


class Photo(AppendOnly):
    """A picture kept by the SHA-256 of its bytes."""

    hash = models.CharField(max_length=64, primary_key=True)
    content_type = models.CharField(max_length=40)
    size = models.PositiveIntegerField()
    taken_by = models.CharField(max_length=120, blank=True)
    received_at = models.DateTimeField()

    def __str__(self) -> str:
        return self.hash[:12]


class PhotoAsSent(AppendOnly):
    """The SHA-256 of a picture as a phone sent it, by which its scans name it: what is kept was written anew."""

    hash = models.CharField(max_length=64, primary_key=True)
    photo = models.ForeignKey(Photo, models.PROTECT, related_name="as_sent")

    def __str__(self) -> str:
        return self.hash[:12]


class Entry(AppendOnly):
    """Somebody observed or did something to one thing at one moment. Never changed, never deleted."""

    id = models.UUIDField(primary_key=True)
    act = models.UUIDField(db_index=True)
    verb = models.CharField(max_length=24, choices=Verb)
    label = models.ForeignKey(Label, models.PROTECT, null=True, blank=True, related_name="entries", db_index=False)
    place = models.ForeignKey(Place, models.PROTECT, null=True, blank=True, related_name="entries", db_index=False)
    bay = models.CharField(max_length=20, blank=True)
    drive_set = models.ForeignKey(
        DriveSet, models.PROTECT, null=True, blank=True, related_name="entries", db_index=False
    )
    person = models.ForeignKey(Person, models.PROTECT, null=True, blank=True, related_name="entries", db_index=False)
    quantity = models.PositiveIntegerField(null=True, blank=True)
    mass_g = models.PositiveIntegerField(null=True, blank=True)
    seal = models.CharField(max_length=40, blank=True)
    serial = models.CharField(max_length=80, blank=True)
    condition = models.CharField(max_length=20, blank=True)
    note = models.TextField(blank=True)
    photo = models.ForeignKey(Photo, models.PROTECT, null=True, blank=True, related_name="entries", db_index=False)
    grade = models.CharField(max_length=6, choices=Grade)
    rule = models.CharField(max_length=60, blank=True, help_text="The rule this is evidence for.")
    value = models.CharField(max_length=200, blank=True, help_text="What was found, measured or read.")
    field = models.CharField(max_length=40, blank=True, help_text="What was amended.")
    before = models.CharField(max_length=250, blank=True)
    after = models.CharField(max_length=250, blank=True)
    due_at = models.DateTimeField(null=True, blank=True)
    purpose = models.CharField(max_length=120, blank=True, default="", help_text="What it was handed over for.")
    taken_at = models.DateTimeField(null=True, blank=True, help_text="The device's own clock, as it was.")
    offset_ms = models.BigIntegerField(null=True, blank=True)
    happened_at = models.DateTimeField()
    stated = models.BooleanField(default=False, help_text="A person said when; no clock stamped it.")
    device = models.ForeignKey(Device, models.PROTECT, null=True, blank=True, related_name="entries", db_index=False)
    device_seq = models.BigIntegerField(null=True, blank=True)
    carried_by = models.ForeignKey(
        Device, models.PROTECT, null=True, blank=True, related_name="carried", db_index=False
    )
    sent_at = models.DateTimeField(null=True, blank=True)
    received_at = models.DateTimeField()
    by = models.CharField(max_length=120)
    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="entries", db_index=False
    )
    day_pass = models.ForeignKey(DayPass, models.PROTECT, null=True, blank=True, related_name="entries", db_index=False)
    role = models.CharField(max_length=12, choices=Role)
    reference = models.CharField(max_length=30, blank=True)
    corrects = models.UUIDField(null=True, blank=True, help_text="The act this takes back.")

    class Meta:
        ordering = ["happened_at", "id"]
        indexes = [
            # The history and the place of one thing.
            models.Index(fields=["label", "-happened_at", "-id"], name="entry_label_newest"),
            # What went into one container, and when.
            models.Index(fields=["place", "-happened_at", "-id"], name="entry_place_newest"),
            # In how many ways one thing was ever placed, and what was ever in one container: not how often.
            models.Index(
                fields=["label", "place", "verb", "bay"], name="entry_ever_put", condition=Q(place__isnull=False)
            ),
            models.Index(fields=["place", "label"], name="entry_ever_in", condition=Q(place__isnull=False)),
            # Few entries name one of these: an index of all of them would be written to with every scan.
            *(
                models.Index(fields=[name], name=f"entry_{name}", condition=Q(**{f"{name}__isnull": False}))
                for name in ("person", "photo", "carried_by", "user", "day_pass")
            ),
            # The ledger page.
            models.Index(fields=["-happened_at", "-id"], name="entry_newest"),
            # Which acts are taken back (few rows).
            models.Index(fields=["corrects"], name="entry_corrects", condition=Q(corrects__isnull=False)),
            # What one show did.
            models.Index(fields=["reference", "-happened_at"], name="entry_reference", condition=~Q(reference="")),
            # Which case a seal was put on: few rows.
            models.Index(fields=["seal"], name="entry_seal", condition=~Q(seal="")),
            # Recordings and members of one set.
            models.Index(fields=["drive_set", "-happened_at"], name="entry_set", condition=Q(drive_set__isnull=False)),
            # Which sets one thing joined: few rows, however long its history.
            models.Index(fields=["label", "verb"], name="entry_joined", condition=Q(drive_set__isnull=False)),
            # How far one phone's clock was off, at most and at least: not how often it was compared.
            models.Index(
                fields=["device", "offset_ms"], name="entry_clock_offset", condition=Q(offset_ms__isnull=False)
            ),
            # Gaps and twins in one device's own count; never unique: a phone restored from a copy counts again.
            models.Index(fields=["device", "device_seq"], name="entry_device_seq", condition=Q(device__isnull=False)),
        ]
        constraints = [
            models.CheckConstraint(
                condition=~Q(verb__in=PLACELESS) | Q(place__isnull=True), name="entry_verb_that_moves_nothing"
            ),
            models.CheckConstraint(
                condition=Q(verb__in=WITHOUT_LABEL) | Q(label__isnull=False), name="entry_names_a_thing"
            ),
            models.CheckConstraint(
                condition=Q(verb="corrected", corrects__isnull=False) | (~Q(verb="corrected") & Q(corrects=None)),
                name="entry_correction_names_an_act",
            ),
            models.CheckConstraint(condition=Q(verb="amended") ^ Q(field=""), name="entry_amended_names_a_field"),
            models.CheckConstraint(
                condition=~Q(verb="counted") | Q(quantity__isnull=False), name="entry_counted_has_a_count"
            ),
            models.CheckConstraint(condition=~Q(verb="weighed") | Q(mass_g__gt=0), name="entry_weighed_has_a_mass"),
            models.CheckConstraint(
                condition=~Q(verb__in=("joined", "dropped", "broken up")) | Q(drive_set__isnull=False),
                name="entry_membership_names_a_set",
            ),
            models.CheckConstraint(
                condition=~Q(verb__in=("packed", "fitted", "placed", "loaded", "arrived", "consumed", "written off"))
                | Q(place__isnull=False),
                name="entry_placing_verb_has_a_place",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.verb} {self.label or ''} {self.happened_at:%Y-%m-%d %H:%M}"


class Holding(models.Model):
    """Where each item is by present knowledge: the one projection, for filters, counts and big places."""

    item = models.OneToOneField(Item, models.PROTECT, primary_key=True, related_name="holding")
    place = models.ForeignKey(Place, models.PROTECT, null=True, related_name="holdings", db_index=False)
    bay = models.CharField(max_length=20, blank=True)
    entry = models.ForeignKey(Entry, models.PROTECT, null=True, related_name="+", db_index=False)

    class Meta:
        indexes = [models.Index(fields=["place", "item"], name="holding_place")]

    def __str__(self) -> str:
        return f"{self.item} in {self.place}"


class SetAside(models.Model):
    """An upload that is no entry, or not yet: held for a kit manager, a second body, or unreadable."""

    class Why(models.TextChoices):
        HELD = "held", "held"
        ID_REUSED = "id reused", "id reused"
        UNREADABLE = "unreadable", "unreadable"

    entry_id = models.UUIDField(null=True, blank=True, db_index=True)
    why = models.CharField(max_length=10, choices=Why)
    sentence = models.CharField(max_length=300)
    body = models.TextField(help_text="What the phone sent, to the letter.")
    device = models.ForeignKey(Device, models.PROTECT, null=True, blank=True, related_name="set_aside")
    received_at = models.DateTimeField()
    settled_at = models.DateTimeField(null=True, blank=True)
    settled_by = models.CharField(max_length=120, blank=True)
    accepted = models.BooleanField(null=True, blank=True)

    class Meta:
        ordering = ["-received_at"]

    def __str__(self) -> str:
        return f"{self.why}: {self.sentence}"
