"""A page out of a long list: which things stand on it is found by narrow rows, and only those are read whole."""

from __future__ import annotations

from typing import Any

from django.db.models import Model, QuerySet
from django_tables2.data import TableQuerysetData


class NarrowFirst(TableQuerysetData):
    """Sorting rows of eighty columns to show a page of them takes several times as long as sorting their keys.

    `whole` is how a row is read for the page, without what narrows the list.
    """

    def __init__(self, data: QuerySet[Any], whole: QuerySet[Any]) -> None:
        super().__init__(data)
        self.whole = whole

    def __getitem__(self, key: Any) -> Any:
        if not isinstance(key, slice):
            return super().__getitem__(key)
        return self._whole(self.keys(key.start or 0, key.stop))

    def keys(self, start: int, stop: int | None) -> list[Any]:
        """The keys of the rows from one number to before another, in the order of the list."""
        return list(self.data.values_list("pk", flat=True)[start:stop])

    def _whole(self, keys: list[Any]) -> list[Model]:
        rows: dict[Any, Model] = self.whole.in_bulk(keys)
        return [rows[one] for one in keys if one in rows]
