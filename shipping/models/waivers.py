"""A person's word over a rule, and the limits the rules read."""

from __future__ import annotations

from django.db import models

from inventory.models.appendonly import AppendOnly


class Waiver(AppendOnly):
    """Stands while the same rule says the same thing of the same subject: the digest of its facts."""

    rule = models.CharField(max_length=60, db_index=True)
    subject = models.CharField(max_length=80, help_text="As the finding names it: case:12, leg:3, show:FMC.")
    digest = models.CharField(max_length=64)
    reason = models.CharField(max_length=250)
    document = models.CharField(max_length=200, blank=True)
    is_decision = models.BooleanField(
        default=False,
        help_text="A recorded decision over a rule that nobody can waive; not approved by this tool.",
    )
    by = models.CharField(max_length=120)
    role = models.CharField(max_length=12)
    reference = models.CharField(max_length=30, blank=True)
    given_at = models.DateTimeField()

    class Meta:
        ordering = ["-given_at"]
        indexes = [models.Index(fields=["subject", "rule"], name="waiver_subject")]

    def __str__(self) -> str:
        return f"{self.rule} waived for {self.subject}"


class RuleLimit(AppendOnly):
    """A limit from a date on. The newest row not after the day asked about counts."""

    rule = models.CharField(max_length=60)
    name = models.CharField(max_length=40)
    value = models.DecimalField(max_digits=12, decimal_places=3)
    valid_from = models.DateField()
    source = models.CharField(max_length=200)
    entered_by = models.CharField(max_length=120)
    entered_at = models.DateTimeField()

    class Meta:
        ordering = ["rule", "name", "valid_from", "id"]

    def __str__(self) -> str:
        return f"{self.rule} {self.name} = {self.value:f} from {self.valid_from}"


class CarrierFigure(AppendOnly):
    """A figure of a carrier's terms from a date on. An empty carrier means any without its own; newest row counts."""

    carrier = models.CharField(max_length=120, blank=True)
    mode = models.CharField(max_length=8)
    name = models.CharField(max_length=40)
    value = models.DecimalField(max_digits=14, decimal_places=3)
    currency = models.CharField(max_length=3, blank=True)
    valid_from = models.DateField()
    source = models.CharField(max_length=200)
    entered_by = models.CharField(max_length=120)
    entered_at = models.DateTimeField()

    class Meta:
        ordering = ["mode", "name", "valid_from", "id"]

    def __str__(self) -> str:
        return f"{self.carrier or 'any carrier'} {self.mode} {self.name} = {self.value:f} from {self.valid_from}"
