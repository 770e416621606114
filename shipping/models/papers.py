"""The list a consignment crosses a border under. Frozen once issued."""

from __future__ import annotations

from django.db import models

from inventory.models import Item
from shipping.models.shows import Show


class BorderList(models.Model):
    show = models.ForeignKey(Show, models.PROTECT, related_name="border_lists")
    number = models.CharField(max_length=40, unique=True)
    valid_until = models.DateField(null=True, blank=True)
    issued_at = models.DateTimeField(null=True, blank=True, help_text="From here on nothing is added or changed.")
    issued_by = models.CharField(max_length=120, blank=True)

    def __str__(self) -> str:
        return f"border list {self.number}"


class BorderLine(models.Model):
    border_list = models.ForeignKey(BorderList, models.CASCADE, related_name="lines")
    line = models.PositiveSmallIntegerField()
    item = models.ForeignKey(Item, models.PROTECT, null=True, blank=True, related_name="border_lines")
    description = models.CharField(max_length=250)
    serial = models.CharField(max_length=80, blank=True)
    pieces = models.PositiveIntegerField(default=1)
    mass_kg = models.DecimalField(max_digits=8, decimal_places=2, null=True, blank=True)
    value = models.DecimalField(max_digits=12, decimal_places=2, null=True, blank=True)
    currency = models.CharField(max_length=3, blank=True)
    origin = models.CharField(max_length=2, blank=True)
    case = models.ForeignKey(Item, models.PROTECT, null=True, blank=True, related_name="border_lines_inside")
    owner_consents = models.BooleanField(default=True)

    class Meta:
        ordering = ["border_list", "line"]
        constraints = [models.UniqueConstraint(fields=["border_list", "line"], name="one_border_line")]

    def __str__(self) -> str:
        return f"line {self.line}: {self.description}"
