"""Who scanned: a browser, and the pass of one show that let it."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.db import models


class DayPass(models.Model):
    """A code for one show, 24 to 72 hours: no account, few verbs, a name on every act."""

    reference = models.CharField(max_length=30, db_index=True)
    code = models.CharField(max_length=20, unique=True, help_text="Said on a radio, typed, or read from the QR.")
    verbs = models.CharField(max_length=200, help_text="With commas.")
    valid_from = models.DateTimeField()
    valid_until = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    revoked_by = models.CharField(max_length=120, blank=True)
    made_by = models.CharField(max_length=120)
    made_at = models.DateTimeField()

    class Meta:
        ordering = ["-made_at"]

    def __str__(self) -> str:
        return f"pass {self.code} for {self.reference}"

    @property
    def allowed_verbs(self) -> set[str]:
        return {verb.strip() for verb in self.verbs.split(",") if verb.strip()}


class Device(models.Model):
    """One browser with one user or one pass, and the name its bearer gave."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4)
    name = models.CharField(max_length=120)
    token_hash = models.CharField(max_length=64, unique=True)
    day_pass = models.ForeignKey(DayPass, models.PROTECT, null=True, blank=True, related_name="devices")
    user = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="devices")
    joined_at = models.DateTimeField()
    last_heard_at = models.DateTimeField(null=True, blank=True)
    offset_ms = models.BigIntegerField(null=True, blank=True, help_text="Server clock less its own, last measured.")
    unsent = models.PositiveIntegerField(default=0, help_text="What it said it still holds.")

    def __str__(self) -> str:
        return f"{self.name}'s device"


class WrongCode(models.Model):
    """A pass code that nobody issued, tried from some address: kept for as long as guessing is slowed, then dropped."""

    address = models.CharField(max_length=45)
    tried_at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["address", "tried_at"], name="wrong_codes_by_address")]  # each try to join

    def __str__(self) -> str:
        return f"a wrong pass code from {self.address}"
