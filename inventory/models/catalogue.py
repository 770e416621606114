"""Kinds of thing: what every item of one make and model has in common."""

from __future__ import annotations

from typing import Any

from django.db import models, transaction

from inventory.folding import fold


class Kind(models.TextChoices):
    FRAME = "frame", "frame"
    PANEL = "panel", "control panel"
    DRIVE = "drive", "drive"
    POWER_SUPPLY = "power supply", "power supply"
    UPS = "ups", "UPS"
    DISTRIBUTION = "distribution", "power distribution unit"
    RAILS = "rails", "rails"
    CORD = "cord", "cord"
    CABLE = "cable", "cable"
    ADAPTER = "adapter", "adapter"
    KEYBOARD = "keyboard", "keyboard"
    MOUSE = "mouse", "mouse"
    LICENCE_KEY = "licence key", "licence key"
    MONITOR = "monitor", "monitor"
    CONTROLLER = "controller", "controller"
    COMMS = "comms", "intercom"
    NETWORK = "network", "network switch"
    COVER = "cover", "cover"
    BLANK = "blank", "bay blank"
    STAND = "stand", "stand"
    SHELF = "shelf", "rack shelf"
    BATTERY = "battery", "battery"
    TOOL = "tool", "tool"
    CONSUMABLE = "consumable", "consumable"
    CASE = "case", "case"
    VEHICLE = "vehicle", "vehicle"
    OTHER = "other", "other"


def type_words(maker: str, name: str) -> str:
    return f"{maker} {name}".strip()


class ItemType(models.Model):
    """A make and model, in our words. Unknown measures stay null: null means nobody has said."""

    name = models.CharField(max_length=120)
    maker = models.CharField(max_length=120, blank=True)
    key = models.CharField(max_length=250, unique=True, editable=False)
    kind = models.CharField(max_length=20, choices=Kind, default=Kind.OTHER)
    length_mm = models.PositiveIntegerField(null=True, blank=True)
    width_mm = models.PositiveIntegerField(null=True, blank=True)
    height_mm = models.PositiveIntegerField(null=True, blank=True)
    mass_kg = models.DecimalField(max_digits=8, decimal_places=3, null=True, blank=True)
    rack_units = models.PositiveSmallIntegerField(null=True, blank=True)
    rack_depth_mm = models.PositiveIntegerField(null=True, blank=True)
    needs_rails = models.BooleanField(null=True, blank=True, help_text="Empty: nobody has said.")
    needs_original_packaging = models.BooleanField(default=False)
    stays_upright = models.BooleanField(default=False)
    max_on_top_kg = models.DecimalField(max_digits=8, decimal_places=3, null=True, blank=True)
    shock_critical = models.BooleanField(default=False)
    transport_bracket = models.BooleanField(default=False, help_text="Has a bracket that is fitted for the road.")
    supplies = models.PositiveSmallIntegerField(default=0, help_text="Redundant supplies it should travel with.")
    needs_true_sine = models.BooleanField(default=False)
    true_sine = models.BooleanField(null=True, blank=True, help_text="Of a UPS: is its output a true sine wave?")
    solid_state = models.BooleanField(default=False)
    capacity_gb = models.PositiveIntegerField(null=True, blank=True)
    connector = models.CharField(max_length=30, blank=True)
    cord_length_mm = models.PositiveIntegerField(null=True, blank=True)
    battery_chemistry = models.CharField(max_length=20, blank=True)
    battery_wh = models.DecimalField(max_digits=8, decimal_places=3, null=True, blank=True)
    battery_count = models.PositiveSmallIntegerField(default=0)
    inspection_interval_days = models.PositiveIntegerField(null=True, blank=True)
    replacement_value = models.DecimalField(max_digits=12, decimal_places=2, null=True, blank=True)
    currency = models.CharField(max_length=3, blank=True)
    country_of_origin = models.CharField(max_length=2, blank=True)
    hs_hint = models.CharField(max_length=10, blank=True)
    serials_required = models.BooleanField(default=True)
    is_lot = models.BooleanField(default=False, help_text="Counted, not told apart.")

    class Meta:
        ordering = ["maker", "name"]

    def __str__(self) -> str:
        return type_words(self.maker, self.name)

    def save(self, *args: Any, **kwargs: Any) -> None:
        self.key = self.make_key(self.maker, self.name)
        with transaction.atomic(savepoint=False):  # what follows from its words goes in with them
            super().save(*args, **kwargs)

    @staticmethod
    def make_key(maker: str, name: str) -> str:
        return f"{fold(maker)}|{fold(name)}"


class ContainerType(models.Model):
    """What a type that can hold things offers: room, rating, and its compartments in order."""

    item_type = models.OneToOneField(ItemType, models.CASCADE, related_name="container")
    inner_length_mm = models.PositiveIntegerField(null=True, blank=True)
    inner_width_mm = models.PositiveIntegerField(null=True, blank=True)
    inner_height_mm = models.PositiveIntegerField(null=True, blank=True)
    rack_units = models.PositiveSmallIntegerField(null=True, blank=True)
    usable_depth_mm = models.PositiveIntegerField(null=True, blank=True)
    tare_kg = models.DecimalField(max_digits=8, decimal_places=3, null=True, blank=True)
    max_gross_kg = models.DecimalField(max_digits=8, decimal_places=3, null=True, blank=True)
    strict_order = models.BooleanField(default=False, help_text="Each drive back in its own bay.")
    for_drives = models.BooleanField(default=False, help_text="A drive box: one complete set to a box.")
    original_packaging_for = models.ManyToManyField(ItemType, blank=True, related_name="original_packaging")
    wheels = models.BooleanField(default=False)
    payload_kg = models.DecimalField(max_digits=8, decimal_places=1, null=True, blank=True)
    door_width_mm = models.PositiveIntegerField(null=True, blank=True)
    door_height_mm = models.PositiveIntegerField(null=True, blank=True)

    def __str__(self) -> str:
        return f"inside of {self.item_type}"


class Compartment(models.Model):
    """One bay, slot or pocket. A bay or slot holds one thing, a pocket many."""

    class CompartmentKind(models.TextChoices):
        BAY = "bay", "bay"
        SLOT = "slot", "slot"
        POCKET = "pocket", "pocket"

    container = models.ForeignKey(ContainerType, models.CASCADE, related_name="compartments")
    kind = models.CharField(max_length=6, choices=CompartmentKind, default=CompartmentKind.SLOT)
    label = models.CharField(max_length=20)
    position = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ["position"]
        constraints = [
            models.UniqueConstraint(fields=["container", "label"], name="one_compartment_per_label"),
            models.UniqueConstraint(fields=["container", "position"], name="one_compartment_per_position"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.label}"


class Axle(models.Model):
    """An axle of a vehicle type, measured from the headboard."""

    container = models.ForeignKey(ContainerType, models.CASCADE, related_name="axles")
    behind_headboard_mm = models.IntegerField()
    limit_kg = models.PositiveIntegerField(null=True, blank=True)
    empty_kg = models.PositiveIntegerField(null=True, blank=True)

    class Meta:
        ordering = ["behind_headboard_mm"]

    def __str__(self) -> str:
        return f"axle {self.behind_headboard_mm} mm behind the headboard"
