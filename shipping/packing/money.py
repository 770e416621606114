"""What things are worth together: sums by currency, never across currencies. Pure."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from decimal import Decimal


def by_currency(worth: Iterable[tuple[Decimal | None, str]]) -> dict[str, Decimal]:
    """Values added up for each currency; what has none is left out."""
    found: dict[str, Decimal] = defaultdict(Decimal)
    for value, currency in worth:
        if value is not None:
            found[currency] += value
    return dict(found)
