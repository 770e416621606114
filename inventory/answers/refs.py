"""Rows as answers name them."""

from __future__ import annotations

from inventory.answers.values import ItemRef
from inventory.models import Item


def item_ref(item: Item) -> ItemRef:
    """Expects type and labels to be loaded; the newest code in use stands for the item."""
    labels = sorted(item.labels.all(), key=lambda label: (label.retired_at is None, label.pk))
    code = labels[-1].code if labels else ""
    return ItemRef(item.pk, code, item.number or "", item.called, item.serial)
