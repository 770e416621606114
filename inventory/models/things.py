"""Physical things, the codes on them, and the wholes they belong to."""

from __future__ import annotations

from typing import Any

from django.db import models, transaction
from django.db.models import Q
from django.db.models.functions import Upper

from inventory.folding import fold, fold_confusable
from inventory.models.catalogue import ItemType, type_words
from inventory.models.people import Organisation


class System(models.Model):
    """A working whole: READY or NOT READY, never by hand."""

    name = models.CharField(max_length=60, unique=True)
    slug = models.SlugField(max_length=60, unique=True)
    colour = models.CharField(max_length=20, blank=True, help_text="The tape colour, in words.")
    prefix = models.CharField(max_length=6, blank=True, help_text="The letters of its case numbers.")
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class DriveSet(models.Model):
    """The ordered drives that make one system's media. Members follow from the ledger."""

    name = models.CharField(max_length=60, unique=True)
    slug = models.SlugField(max_length=60, unique=True)
    host = models.ForeignKey(System, models.PROTECT, null=True, blank=True, related_name="drive_sets")
    bays = models.CharField(max_length=120, help_text="Bay letters in order, with spaces: A B C D E F")
    strict_order = models.BooleanField(default=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name

    @property
    def bay_labels(self) -> list[str]:
        return self.bays.split()


def called_by(name: str, serial: str) -> str:
    """What people call a thing: its own name, or its type's, with the serial's tail."""
    return f"{name} {serial[-6:].lstrip('-/._ ')}".strip() if serial else name


def thing_words(number: str | None, name: str, maker: str, kind: str, serial: str) -> str:
    """The same off a row: its number, else what people call it."""
    return number or called_by(name or type_words(maker, kind), serial)


def is_lot(of_lots: bool, quantity: int) -> bool:
    """Counted, not told apart: by its type, or because several pieces share this one code."""
    return of_lots or quantity > 1


class ItemQuerySet(models.QuerySet["Item"]):
    def in_stock(self) -> ItemQuerySet:
        return self.filter(retired_at=None)

    def containers(self) -> ItemQuerySet:
        return self.filter(type__container__isnull=False)

    def with_words(self) -> ItemQuerySet:
        """All that a sentence about an item needs, in one query."""
        return self.select_related("type", "owner", "home_case", "home_system", "home_set").prefetch_related("labels")


class Item(models.Model):
    """One physical thing, or one lot. Where it is stands in the ledger, never here."""

    type = models.ForeignKey(ItemType, models.PROTECT, related_name="items")
    serial = models.CharField(max_length=80, blank=True)
    serial_unreadable_since = models.DateTimeField(null=True, blank=True)
    identity = models.CharField(max_length=250, null=True, blank=True, unique=True, editable=False)
    serial_key = models.CharField(max_length=80, blank=True, db_index=True, editable=False)
    serial_skeleton = models.CharField(max_length=80, blank=True, db_index=True, editable=False)
    name = models.CharField(max_length=120, blank=True, help_text="If it needs more words than its type.")
    number = models.CharField(max_length=20, null=True, blank=True, unique=True)
    quantity = models.PositiveIntegerField(default=1)
    home_system = models.ForeignKey(System, models.PROTECT, null=True, blank=True, related_name="items")
    home_set = models.ForeignKey(DriveSet, models.PROTECT, null=True, blank=True, related_name="home_drives")
    home_case = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="home_items")
    owner = models.ForeignKey(Organisation, models.PROTECT, related_name="items")
    off_hire_at = models.DateTimeField(null=True, blank=True)
    cost_per_day = models.DecimalField(max_digits=10, decimal_places=2, null=True, blank=True)
    inspection_due = models.DateField(null=True, blank=True)
    registration = models.CharField(max_length=80, blank=True, help_text="Maker's registration, or a plate.")
    warranty_until = models.DateField(null=True, blank=True)
    retired_at = models.DateTimeField(null=True, blank=True)
    replaced_by = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="replaces")
    note = models.TextField(blank=True)
    added_at = models.DateTimeField()

    objects = ItemQuerySet.as_manager()

    class Meta:
        ordering = ["number", "id"]
        # A number is asked for in any case.
        indexes = [models.Index(Upper("number"), name="item_number_upper")]
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gte=1), name="item_quantity_at_least_one"),
        ]

    def __str__(self) -> str:
        return self.number or self.called

    def save(self, *args: Any, **kwargs: Any) -> None:
        self.refresh_keys()
        fields = kwargs.get("update_fields")
        if fields is not None:
            kwargs["update_fields"] = {*fields, "identity", "serial_key", "serial_skeleton"}
        with transaction.atomic(savepoint=False):  # what follows from its words goes in with them
            super().save(*args, **kwargs)

    def refresh_keys(self) -> None:
        """Keep the folded forms in step with the serial; bulk writers call this themselves."""
        self.number = self.number or None
        self.serial_key = fold(self.serial)
        self.serial_skeleton = fold_confusable(self.serial)
        self.identity = f"{fold(self.type.maker)}|{self.serial_key}" if self.serial_key else None

    @property
    def called(self) -> str:
        """What people call it: its own name, else its type with the serial's tail."""
        return called_by(self.name or str(self.type), self.serial)

    @property
    def is_lot(self) -> bool:
        return is_lot(self.type.is_lot, self.quantity)

    @property
    def code(self) -> str:
        """The newest code in use, else the newest of all; free of queries where the labels were fetched with it."""
        labels = sorted(self.labels.all(), key=lambda label: (label.retired_at is None, label.pk))
        return labels[-1].code if labels else ""


class ItemAlias(models.Model):
    """A number an item used to have. It resolves for ever."""

    item = models.ForeignKey(Item, models.PROTECT, related_name="aliases")
    number = models.CharField(max_length=20, unique=True)
    since = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.number} (now {self.item})"


class LabelKind(models.TextChoices):
    CASE = "case", "case label"
    ITEM = "item", "item label"
    DRIVE = "drive", "drive label"
    CORD = "cord", "cord flag"
    BLANK = "blank", "blank label"
    UNKNOWN = "unknown", "seen, not ours yet"


class Label(models.Model):
    """A printed code. Entries point here; several labels may name one item; a bound code stays bound."""

    code = models.CharField(max_length=40, unique=True)
    kind = models.CharField(max_length=8, choices=LabelKind, default=LabelKind.ITEM)
    item = models.ForeignKey(Item, models.PROTECT, null=True, blank=True, related_name="labels")
    issued_at = models.DateTimeField()
    bound_at = models.DateTimeField(null=True, blank=True)
    retired_at = models.DateTimeField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return self.code


class Necessity(models.TextChoices):
    REQUIRED = "required", "required"
    RECOMMENDED = "recommended", "recommended"
    SPARE = "spare", "spare"


class SystemPart(models.Model):
    """One line of what makes a system whole: an exact item, or so many of a type."""

    system = models.ForeignKey(System, models.CASCADE, related_name="parts")
    type = models.ForeignKey(ItemType, models.PROTECT, null=True, blank=True, related_name="part_of")
    item = models.ForeignKey(Item, models.PROTECT, null=True, blank=True, related_name="part_of")
    necessity = models.CharField(max_length=12, choices=Necessity, default=Necessity.REQUIRED)
    quantity = models.PositiveIntegerField(default=1)
    requirement = models.CharField(max_length=200, blank=True)
    show_stopper = models.BooleanField(default=False)
    left_behind_prone = models.BooleanField(default=False)
    position = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["system", "position", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(type__isnull=False, item__isnull=True) | Q(type__isnull=True, item__isnull=False),
                name="part_is_a_type_or_an_item",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.system}: {self.item or self.type}"


class SetupCheck(models.Model):
    """Something to look at before the system is signed ready."""

    system = models.ForeignKey(System, models.CASCADE, related_name="setup_checks")
    text = models.CharField(max_length=200)
    position = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["system", "position", "id"]

    def __str__(self) -> str:
        return self.text
