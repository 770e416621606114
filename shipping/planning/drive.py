"""What is asked of a floor page beside the leg itself."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class DeckQuestion:
    """`vehicle` in place of the leg's, `stay` are cases that do not go (both ids), `order` the stops by their number
    in the book's order, counted from 1."""

    vehicle: int | None = None
    stay: tuple[int, ...] = ()
    order: tuple[int, ...] = ()

    @property
    def is_plain(self) -> bool:
        return self == DeckQuestion()

    def as_data(self) -> dict[str, Any]:
        return {name: list(one) if isinstance(one, tuple) else one for name, one in asdict(self).items()}

    @classmethod
    def from_data(cls, data: Mapping[str, Any]) -> DeckQuestion:
        return cls(**{name: tuple(one) if isinstance(one, list) else one for name, one in data.items()})

    def ordered(self, stops: list[str]) -> list[str]:
        """The stops as asked; as the book has them where the question is of others."""
        if sorted(self.order) != list(range(1, len(stops) + 1)):
            return stops
        return [stops[at - 1] for at in self.order]
