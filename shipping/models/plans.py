"""What should be in which case."""

from __future__ import annotations

from django.db import models

from inventory.models import Item
from shipping.models.shows import Show


class PackLine(models.Model):
    """This item in this case for this show. Without a line, an item belongs in its home case."""

    show = models.ForeignKey(Show, models.CASCADE, related_name="pack_lines")
    item = models.ForeignKey(Item, models.PROTECT, related_name="pack_lines")
    case = models.ForeignKey(Item, models.PROTECT, related_name="planned_contents")
    slot = models.CharField(max_length=20, blank=True)
    quantity = models.PositiveIntegerField(default=1)
    why = models.CharField(max_length=200, blank=True)
    decided_by = models.CharField(max_length=120)
    decided_at = models.DateTimeField()

    class Meta:
        ordering = ["case", "id"]
        constraints = [models.UniqueConstraint(fields=["show", "item", "case"], name="one_pack_line")]

    def __str__(self) -> str:
        return f"{self.item} in {self.case} for {self.show}"
