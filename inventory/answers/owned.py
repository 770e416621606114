"""Things as a verdict on systems reads them: what they are, where they are at home, whose they are; a row each."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date, datetime
from typing import NamedTuple

from inventory.answers.refs import CODES, NAMED, code_in, ref_of
from inventory.answers.values import ItemRef
from inventory.models import Item
from inventory.models.things import is_lot
from inventory.prepared import Asked, Prepared


class Owned(NamedTuple):
    """One thing; the first six are what it is named by. `lots`: does its type come in lots;
    `inspection_days`: how often it is looked at."""

    pk: int
    number: str | None
    name: str
    serial: str
    maker: str
    type_name: str
    type_id: int
    kind: str
    lots: bool
    inspection_days: int | None
    quantity: int
    system_id: int | None
    system: str | None
    case_number: str | None
    case_name: str | None
    owner: str
    is_ours: bool
    inspection_due: date | None
    off_hire_at: datetime | None
    retired_at: datetime | None
    code: str
    labelled: bool

    @property
    def is_lot(self) -> bool:
        return is_lot(self.lots, self.quantity)

    @property
    def ref(self) -> ItemRef:
        return ref_of(self.code, self.pk, self.number, self.name, self.serial, self.maker, self.type_name)


COLUMNS = (
    *NAMED, "type_id", "type__kind", "type__is_lot", "type__inspection_interval_days", "quantity", "home_system_id",
    "home_system__name", "home_case__number", "home_case__name", "owner__name", "owner__is_ours", "inspection_due",
    "off_hire_at", "retired_at",
)  # fmt: skip
ROWS = Prepared(
    lambda items: Item.objects.filter(pk__in=items).order_by("pk").values_list(*COLUMNS), items=Asked.IDS
)  # fmt: skip


def owned(items: Collection[int]) -> dict[int, Owned]:
    """These by their keys, in the order of those; two queries."""
    labels = CODES(items=items)
    codes, labelled = code_in(labels), {item for item, _code, retired_at in labels if retired_at is None}
    rows = ROWS(items=items)
    return {row[0]: Owned._make((*row, codes.get(row[0], ""), row[0] in labelled)) for row in rows}
