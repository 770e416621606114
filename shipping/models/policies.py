"""What an insurer has promised for what travels: dated rows, only added."""

from __future__ import annotations

from django.db import models

from inventory.models.appendonly import AppendOnly


class Basis(models.TextChoices):
    """What the sum is reckoned by. Common practice; the policy's own words decide."""

    NEW = "new for old", "new for old"
    MARKET = "market value", "what it would fetch used"
    AGREED = "agreed value", "a value agreed for each thing"


class Policy(AppendOnly):
    """One policy as it is entered: up to which sum, in one vehicle, after which excess. The newest row of a day counts.

    Sums are in whole units of `currency`. A later row for the same days takes the place of an earlier one.
    """

    insurer = models.CharField(max_length=120)
    number = models.CharField("policy number", max_length=80)
    currency = models.CharField(max_length=3)
    in_one_vehicle = models.DecimalField("insured in one vehicle, up to", max_digits=14, decimal_places=2)
    excess = models.DecimalField("excess: what is ours of each loss", max_digits=14, decimal_places=2, default=0)
    basis = models.CharField(max_length=20, choices=Basis.choices)
    overnight = models.CharField(
        "what it says of a vehicle left alone overnight", max_length=250, blank=True,
        help_text="In the policy's own words, like “only in a locked, guarded yard”.",
    )  # fmt: skip
    valid_from = models.DateField("in force from")
    valid_to = models.DateField("in force until", null=True, blank=True)
    entered_by = models.CharField(max_length=120)
    entered_at = models.DateTimeField()

    class Meta:
        ordering = ["valid_from", "id"]
        verbose_name_plural = "policies"
        constraints = [
            models.CheckConstraint(
                condition=models.Q(in_one_vehicle__gt=0, excess__gte=0), name="policy_insures_something"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.insurer}, policy {self.number}"
