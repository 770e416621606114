"""How long a solid-state drive with content has had no power: advice, not a limit.

Figures: JEDEC JESD218 asks of enterprise drives at the end of their rated wear that they keep data for 3 months
without power at 40 °C, of client drives for 1 year at 30 °C (from a secondary page). Nobody knows a drive's wear and
its store's warmth by the book, so the shorter time counts, and the first word comes earlier (common practice).
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from inventory.answers.bench_rules import UNPOWERED
from inventory.answers.content import Piece
from inventory.answers.starts import WipeBook
from inventory.answers.values import ItemRef
from inventory.models import Verb

SOURCE = "Advice after JEDEC JESD218: 3 months at 40 °C for worn enterprise drives, 1 year at 30 °C for client drives."
POWERED = (Verb.CHECKED, Verb.SERIAL_READ, Verb.DECLARED_BLANK)


@dataclass(frozen=True, slots=True)
class Unpowered:
    """One drive that holds content and has had no power since. `late`: longer than the shortest figure.

    `told_at` is when it had waited long enough to be told of.
    """

    drive: ItemRef
    holds: str
    since: datetime
    days: int
    late: bool
    told_at: datetime

    @property
    def source(self) -> str:
        """On whose figures this rests."""
        return SOURCE

    @property
    def sentence(self) -> str:
        name = self.drive.serial or self.drive.words
        what = (
            "Power it now, check it, and tell whose content it is." if self.late else "Power it and check it this week."
        )
        return f"{name} holds {self.holds} and has had no power for {self.days} days, by the book. {what}"


@dataclass(frozen=True, slots=True)
class Idle:
    """A drive with content that is not being written now, and since when nobody must have had it running.

    `warn` and `late` are how long it may wait.
    """

    drive: ItemRef
    holds: str
    since: datetime
    warn: timedelta
    late: timedelta

    def told(self, at: datetime) -> Unpowered | None:
        """What is to be said of it at a moment, if it has waited long enough by then."""
        waited = at - self.since
        if waited < self.warn:
            return None
        return Unpowered(self.drive, self.holds, self.since, waited.days, waited >= self.late, self.since + self.warn)


def unpowered(wb: WipeBook, drives: Collection[int]) -> tuple[Unpowered, ...]:
    """Those of these drives that have waited too long, the longest first."""
    return waited_too_long(idle(wb, drives), wb.at)


def waited_too_long(drives: Iterable[Idle], at: datetime) -> tuple[Unpowered, ...]:
    found = [told for one in drives if (told := one.told(at)) is not None]
    return tuple(sorted(found, key=lambda one: one.since))


def idle(wb: WipeBook, drives: Collection[int]) -> tuple[Idle, ...]:
    """Those of these drives that lose their content if they wait."""
    solid = [drive for drive in drives if wb.book.things[drive].solid_state]
    return tuple(one for drive in solid if (one := _idle(wb, drive)) is not None)


def _idle(wb: WipeBook, drive: int) -> Idle | None:
    held = wb.still_holds(drive)
    if not held or any(piece.is_open for piece in held):
        return None
    warn, late = (timedelta(days=wb.book.limits.on(wb.at, UNPOWERED, name)) for name in ("warn_days", "late_days"))
    names = " and ".join(dict.fromkeys(piece.called for piece in held))
    return Idle(wb.book.things[drive].ref, names, max(_powered(wb, drive, held)), warn, late)


def _powered(wb: WipeBook, drive: int, held: Collection[Piece]) -> Iterator[datetime]:
    """Every moment at which somebody must have had it running."""
    yield from (piece.end[0] for piece in held)
    yield from (row.time for row in wb.content.scene.of_item.get(drive, ()) if row.verb in POWERED)
    yield from (wipe.at for wipe in wb.wipes(drive))
    for copy in wb.book.copies:
        if drive in copy.serials and copy.entered_at <= wb.at:
            yield copy.made_at  # a copy is verified against a list, without the drive
