"""What a seal is still worth: which case is sealed, what opened it, when it was moved about unsealed. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import NamedTuple
from uuid import UUID

from inventory.answers.book import SAME_HANDS_WITHIN, Book, Row, in_order, insiders, walk


class Opening(NamedTuple):
    """An entry after which what was in a container may not be: what it stands on, and what it opened."""

    row: Row
    seal: Row | None
    grounds: tuple[UUID, ...]
    taken_out: bool = False

    @property
    def is_untold(self) -> bool:
        """Sealed before, open afterwards, and nobody said that the seal was broken."""
        return self.seal is not None and self.row.verb != "seal broken"


@dataclass(slots=True)
class Interior:
    """A container read from its first loaded entry to its last.

    `seal` is the newest `sealed`, `is_sealed` whether it still holds, `openings` oldest first, `moved` the newest
    placing of an unsealed case at another place and the placing before it, `only_said` what would have opened it,
    had anybody looked, and what another phone put in within a minute of the sealing.
    """

    seal: Row | None = None
    is_sealed: bool = False
    openings: list[Opening] = field(default_factory=list)
    moved: tuple[Row, Row] | None = None
    only_said: list[Row] = field(default_factory=list)

    @property
    def last_open(self) -> Opening | None:
        return self.openings[-1] if self.openings else None

    def opened_after(self, row: Row) -> list[Opening]:
        """Openings after this entry, newest first."""
        return [one for one in reversed(self.openings) if one.row.key > row.key]


class _Reader:
    """Reads one container's rows in order."""

    def __init__(self, book: Book, container: int) -> None:
        self.book = book
        self.thing = book.things[container]
        self.container = container
        self.is_vehicle = self.thing.kind == "vehicle"
        self.found = Interior()
        self.where: dict[int, Row] = {}
        self.stands = False  # of a vehicle: placed, and nothing taken out since

    def read(self) -> Interior:
        inside = insiders(self.book, self.container)
        for row in in_order(self._rows(inside)):
            if row.item == self.container:
                self._own(row)
                self._place(row)
            else:
                before = self._way(row.item) if self.found.is_sealed else None  # asked of a holding seal only
                old = self.where.get(row.item)
                self._place(row)
                self._other(row, old, before)
        return self.found

    def _rows(self, inside: set[int]) -> Iterator[Row]:
        for item in inside | {self.container}:
            yield from self.book.rows.get(item, ())

    def _place(self, row: Row) -> None:
        if not self.book.is_placing(row):
            return
        old = self.where.get(row.item)
        if row.grade == "import" and old is not None and old.grade != "import":
            return
        self.where[row.item] = row

    def _way(self, item: int) -> tuple[UUID, ...] | None:
        """The placings that put an item into the container, at any depth; None if it is not in there."""
        path = walk(self.book, self.where, item).path
        if self.container not in path[1:]:
            return None
        return tuple(self.where[one].id for one in path[: path.index(self.container)] if one in self.where)

    def _own(self, row: Row) -> None:
        found, seal = self.found, self.found.seal
        another = bool(seal and row.seal and row.seal != seal.seal)
        if row.verb == "sealed":
            if found.is_sealed and another:
                self._open(row, ())
            found.seal, found.is_sealed = row, True
        elif found.is_sealed and row.verb == "seal broken":
            self._open(row, ())
        elif found.is_sealed and another:
            self._open(row, ()) if row.is_sight else found.only_said.append(row)
        self._moved(row)

    def _moved(self, row: Row) -> None:
        if not self.book.is_placing(row):
            return
        old = self.where.get(self.container)
        self.stands = True
        ignored = row.grade == "import" and old is not None and old.grade != "import"
        open_and_away = old is not None and old.place != row.place and not self.found.is_sealed
        if old is not None and open_and_away and not ignored and self.thing.is_moved_open:
            self.found.moved = (old, row)

    def _other(self, row: Row, old: Row | None, before: tuple[UUID, ...] | None) -> None:
        if not (self.book.is_evidence(row) or self.book.is_placing(row)):
            return
        after = self._way(row.item) if self.found.is_sealed and row.place is not None else None
        out = self.book.is_placing(row) and old is not None and self._directly_in(old) and row.place != old.place
        if self.is_vehicle:
            self._off_the_deck(row, old, out)
        if self.found.is_sealed and (before is not None or after is not None):
            self._touched(row, before, after, out)
        elif out and not self.is_vehicle and row.is_sight:
            self.found.openings.append(Opening(row, None, (old.id,) if old else (), taken_out=True))

    def _directly_in(self, placing: Row) -> bool:
        return placing.place == self.thing.inside

    def _off_the_deck(self, row: Row, old: Row | None, out: bool) -> None:
        """A vehicle counts as open from the first thing taken off after it was placed somewhere."""
        if out and old and self.stands and row.is_sight:
            own = self.where.get(self.container)
            self.stands = False
            grounds = (old.id, own.id) if own else (old.id,)
            self.found.openings.append(Opening(row, None, grounds, taken_out=True))

    def _touched(self, row: Row, before: tuple[UUID, ...] | None, after: tuple[UUID, ...] | None, out: bool) -> None:
        seal = self.found.seal
        if not row.is_sight:
            self.found.only_said.append(row)
        elif (
            seal is not None
            and before is None
            and self._directly_in(row)
            and row.device != seal.device
            and row.at - seal.at <= SAME_HANDS_WITHIN
        ):
            self.found.only_said.append(row)  # two phones at one case: the sealing did not wait for this scan
        else:
            self._open(row, before or after or (), taken_out=out)

    def _open(self, row: Row, grounds: tuple[UUID, ...], taken_out: bool = False) -> None:
        found = self.found
        found.is_sealed = False
        if self.is_vehicle:
            return
        seal = (found.seal.id,) if found.seal else ()
        found.openings.append(Opening(row, found.seal, (*seal, *grounds), taken_out))


def read_interior(book: Book, container: int) -> Interior:
    """Read everything loaded about a container and what was ever in it."""
    return _Reader(book, container).read()
