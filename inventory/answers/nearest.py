"""What somebody may have meant who typed a code or number that is not there."""

from __future__ import annotations

from rapidfuzz import fuzz, process

from inventory.folding import fold_confusable
from inventory.models import Item, Label, Place


def nearest(text: str, most: int = 3) -> list[str]:
    """Up to `most` codes, numbers, serials and places that look like the text, best first."""
    names = [*Item.objects.exclude(number=None).values_list("number", flat=True)]
    names += Label.objects.exclude(item=None).values_list("code", flat=True)
    names += Item.objects.exclude(serial="").values_list("serial", flat=True)
    names += Place.objects.filter(item=None).values_list("name", flat=True)
    found = process.extract(
        text, names, scorer=fuzz.ratio, processor=fold_confusable, limit=most, score_cutoff=50
    )  # fmt: skip
    return list(dict.fromkeys(name for name, _, _ in found))
