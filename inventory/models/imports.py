"""A gear sheet on its way in, and what stayed unknown after it."""

from __future__ import annotations

from django.db import models

from inventory.models.things import Item


class ImportedSheet(models.Model):
    """An uploaded sheet: kept to the byte, answered question by question, committed whole or not at all."""

    name = models.CharField(max_length=200)
    body = models.BinaryField()
    digest = models.CharField(max_length=64)
    uploaded_at = models.DateTimeField()
    uploaded_by = models.CharField(max_length=120)
    mapping = models.JSONField(default=dict, blank=True, help_text="Column to meaning, as a person settled it.")
    answers = models.JSONField(default=dict, blank=True, help_text="Question id to answer.")
    left_out = models.JSONField(default=list, blank=True, help_text="Rows a person left out, by name.")
    committed_at = models.DateTimeField(null=True, blank=True)
    committed_by = models.CharField(max_length=120, blank=True)
    outcome = models.JSONField(default=dict, blank=True)

    class Meta:
        ordering = ["-uploaded_at"]

    def __str__(self) -> str:
        return self.name


class WorkListNote(models.Model):
    """Free text of a sheet that could not become a fact, kept beside the item it spoke of."""

    item = models.ForeignKey(Item, models.CASCADE, related_name="sheet_notes")
    sheet = models.ForeignKey(ImportedSheet, models.PROTECT, related_name="notes")
    column = models.CharField(max_length=120)
    text = models.TextField()

    def __str__(self) -> str:
        return f"{self.item}: {self.column}"
