"""What somebody may have meant who typed a code or number that is not there."""

from __future__ import annotations

from inventory.answers.search import fits, search


def nearest(text: str, most: int = 3) -> list[str]:
    """Up to `most` codes, numbers, serials and names that look like the text, best first."""
    found = [max(hit.named.texts, key=lambda other: fits(text, other)) for hit in search(text, most)]
    return list(dict.fromkeys(found))[:most]
