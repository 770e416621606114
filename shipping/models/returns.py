"""Coming back: many arrivals over days, closed by a person's decision."""

from __future__ import annotations

from django.db import models

from inventory.models import Item
from inventory.models.appendonly import AppendOnly
from shipping.models.shows import Show


class Return(models.Model):
    show = models.OneToOneField(Show, models.PROTECT, related_name="coming_back")
    opened_at = models.DateTimeField()
    opened_by = models.CharField(max_length=120)
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.CharField(max_length=120, blank=True)
    closing_words = models.TextField(blank=True)

    def __str__(self) -> str:
        return f"return of {self.show}"


class ReturnException(AppendOnly):
    """A thing that was not back when a person closed the return, and why that was all right."""

    coming_back = models.ForeignKey(Return, models.PROTECT, related_name="exceptions")
    item = models.ForeignKey(Item, models.PROTECT, related_name="return_exceptions")
    outcome = models.CharField(max_length=40)
    why = models.CharField(max_length=250)
    named_by = models.CharField(max_length=120)
    named_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.item}: {self.outcome}"
