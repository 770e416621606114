"""Documents as issued: a reprint is the same, and a stale one is known."""

from __future__ import annotations

from django.db import models

from inventory.models.appendonly import AppendOnly
from inventory.models.things import Item


class IssuedPaper(AppendOnly):
    kind = models.CharField(max_length=40, db_index=True)
    reference = models.CharField(max_length=30, blank=True, db_index=True)
    subject = models.CharField(max_length=60, blank=True, help_text="Number, slug or code of what it is about.")
    item = models.ForeignKey(Item, models.PROTECT, null=True, blank=True, related_name="papers")
    number = models.PositiveIntegerField(help_text="n-th issue of this kind for this subject.")
    medium = models.CharField(max_length=20)
    data = models.JSONField(help_text="All that the template was given, frozen.")
    data_digest = models.CharField(max_length=64)
    template_digest = models.CharField(max_length=64)
    signed_bytes = models.BinaryField(null=True, blank=True)
    issued_at = models.DateTimeField()
    issued_by = models.CharField(max_length=120)
    replaces = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="replaced_by")

    class Meta:
        ordering = ["-issued_at", "-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["kind", "reference", "subject", "medium", "number"], name="one_paper_per_issue"
            )
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.subject} issue {self.number}"
