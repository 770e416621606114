"""Who changed a kind, a place, a person or an organisation, when, and what stood there before."""

from __future__ import annotations

from django.db import models

from inventory.models.appendonly import AppendOnly


class RowChange(AppendOnly):
    """One field of one row as it was and as it became; `field` is empty for a row that was added or taken away."""

    table = models.CharField(max_length=60, help_text="The kind of row, such as inventory.place.")
    row = models.PositiveBigIntegerField()
    words = models.CharField(max_length=200, help_text="What the row was called then.")
    field = models.CharField(max_length=60, blank=True)
    before = models.TextField(blank=True)
    after = models.TextField(blank=True)
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        ordering = ["-at", "-id"]
        indexes = [models.Index(fields=["table", "row", "-at"], name="change_of_row")]

    def __str__(self) -> str:
        return f"{self.words}: {self.field or self.after}"
