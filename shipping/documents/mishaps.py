"""What is wrong with some things, as papers print it: open faults, where each was noticed, what was done at once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property

from inventory.answers.faults import open_faults
from inventory.answers.loading import live
from inventory.answers.values import Whereabouts
from inventory.answers.whereabouts import whereabouts_then
from inventory.models import Entry, Item, Verb
from inventory.papers import moment
from shipping.models import Show


@dataclass(frozen=True, slots=True)
class Mishap:
    """One open fault. `stage`: before, during or after the show it was told for; empty where no show is named."""

    key: str
    what: str
    when: str
    where: str
    by: str
    stage: str
    condition: str
    photo: str


class Mishaps:
    """Open faults of these things at one moment, read at once for all of them and only if a paper wants them."""

    def __init__(self, items: Mapping[int, Item], at: datetime) -> None:
        self._items, self._at = items, at

    def of(self, item: Item) -> tuple[Mishap, ...]:
        """Oldest first; empty while nothing is known to be wrong."""
        return tuple(self._mishap(item, entry) for entry in self._faults.get(item.id, []))

    def out_of_use(self, item: Item) -> str:
        """When and by whom it was put in quarantine since its oldest open fault."""
        faults, put = self._faults.get(item.id, []), self._quarantined.get(item.id)
        if not faults or put is None or put.happened_at < faults[0].happened_at:
            return ""
        return f"{moment(put.happened_at)}, {put.by}"

    @cached_property
    def _faults(self) -> dict[int, list[Entry]]:
        return open_faults(self._items, self._at)

    @cached_property
    def _quarantined(self) -> dict[int, Entry]:
        rows = live(self._at).filter(verb=Verb.QUARANTINED, label__item__in=self._faults).select_related("label")
        return {entry.label.item_id: entry for entry in rows.order_by("happened_at", "id")}

    @cached_property
    def _wheres(self) -> dict[datetime, dict[int, Whereabouts]]:
        """Where each thing was when its fault was told."""
        asked: dict[datetime, list[int]] = {}
        for item, faults in self._faults.items():
            for entry in faults:
                asked.setdefault(entry.happened_at, []).append(item)
        return whereabouts_then(asked)

    @cached_property
    def _shows(self) -> dict[str, Show]:
        codes = {entry.reference for faults in self._faults.values() for entry in faults}
        return {show.code: show for show in Show.objects.filter(code__in=codes - {""})}

    def _stage(self, entry: Entry) -> str:
        show = self._shows.get(entry.reference)
        if show is None:
            return ""
        if entry.happened_at < show.starts_at:
            return f"before {show.code}"
        return f"{'during' if entry.happened_at <= show.ends_at else 'after'} {show.code}"

    def _mishap(self, item: Item, entry: Entry) -> Mishap:
        where = self._wheres[entry.happened_at].get(item.id)
        names = [link.place.name for link in where.links if link.place] if where else []
        return Mishap(
            key=str(entry.id), what=entry.note or "not said", when=moment(entry.happened_at), where=", in ".join(names),
            by=entry.by, stage=self._stage(entry), condition=entry.condition, photo=entry.photo_id or "",
        )  # fmt: skip
