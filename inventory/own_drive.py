"""The page of one drive by itself: what it holds, and what ends each reason, whether or not it is in a set."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import datetime

from inventory.answers.drive_loading import book_for
from inventory.answers.stops import told_once
from inventory.answers.values import Reason
from inventory.answers.wiping import open_book
from inventory.drive_pages import DriveCard, bays_of, card_of, unnamed
from inventory.models import DriveSet, Item
from inventory.ways_out import EDITED, own_acts_that_end, set_acts_that_end


@dataclass(frozen=True, slots=True)
class WayOut:
    """A reason of the answer, with the acts that end it: those of the drive by key, and those of sets as wholes."""

    reason: Reason
    own: tuple[str, ...] = ()
    of_sets: tuple[tuple[DriveSet, str], ...] = ()
    edits: bool = False


@dataclass(frozen=True, slots=True)
class OwnPage:
    """`sets`: those it is a member of, and those that recorded what came onto it."""

    card: DriveCard
    sets: tuple[DriveSet, ...]
    references: tuple[str, ...]
    unnamed: tuple[tuple[str, str], ...] = ()

    def ways_out(self, may: Collection[str]) -> list[WayOut]:
        """Each reason with what this reader may do about it; `may` are the keys of the acts that are theirs."""
        return [self._way_out(reason, may) for reason in told_once(self.card.answer.reasons)]

    def _way_out(self, reason: Reason, may: Collection[str]) -> WayOut:
        own = tuple(key for key in own_acts_that_end(reason.word) if key in may)
        keys = [key for key in set_acts_that_end(reason.word) if key in may]
        return WayOut(reason, own, tuple((one, key) for one in self.sets for key in keys), reason.word == EDITED)


def own_page(drive: Item, at: datetime) -> OwnPage:
    """Everything that one drive's own page says of its content."""
    wipe_book = open_book(book_for(drives=[drive.pk]), at)
    bays, pieces = bays_of(wipe_book, drive.pk), wipe_book.content.of(drive.pk)
    card = card_of(wipe_book, drive.pk, next(iter(bays.values()), ""))
    recorded = {piece.drive_set for piece in pieces if piece.drive_set is not None}
    sets = list(DriveSet.objects.filter(pk__in=recorded | set(bays)).order_by("name"))
    references = sorted({name for piece in pieces for name in piece.references})
    return OwnPage(
        replace(card, sets=tuple(one for one in sets if one.pk in bays)), tuple(sets), tuple(references),
        unnamed(wipe_book, [drive.pk]),
    )  # fmt: skip


def content_summary(drive: Item, at: datetime) -> DriveCard:
    """What one drive holds and may be done with it, for any page about it."""
    return own_page(drive, at).card
