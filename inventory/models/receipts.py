"""What a phone was told about each scan it sent, so that a repeat is told the same."""

from __future__ import annotations

from django.db import models

from inventory.models.appendonly import AppendOnly
from inventory.models.passes import Device


class ScanReceipt(AppendOnly):
    """The first answer to one scan id. A second body under the same id differs from `digest`."""

    class Word(models.TextChoices):
        STORED = "stored", "stored"
        UNKNOWN_CODE = "unknown code", "unknown code"
        UNREADABLE = "unreadable", "unreadable"
        HELD = "held", "held"

    scan = models.UUIDField(primary_key=True)
    word = models.CharField(max_length=12, choices=Word)
    says = models.CharField(max_length=12)
    sentence = models.CharField(max_length=300)
    digest = models.CharField(max_length=64, help_text="SHA-256 of the body, its keys in order.")
    device = models.ForeignKey(Device, models.PROTECT, related_name="receipts")
    received_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.word}: {self.scan}"
