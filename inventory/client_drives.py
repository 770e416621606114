"""What a client sees of drives: its own shows' content, on which drives, and if it is released. Nothing else."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from inventory.answers.content import drives_of, members
from inventory.answers.drive_loading import book_for
from inventory.answers.drive_rows import LAST_ID
from inventory.answers.wiping import WipeBook, open_book
from inventory.drive_pages import DriveCard, Interval, set_pages
from inventory.models import ClientReference, DriveSet, Person


@dataclass(frozen=True, slots=True)
class ClientPage:
    """One set as a client sees it: `cards` hold only its own content."""

    drive_set: DriveSet
    cards: tuple[DriveCard, ...]
    references: tuple[str, ...]

    @property
    def holding(self) -> tuple[DriveCard, ...]:
        return tuple(card for card in self.cards if any(not one.gone for one in card.intervals))

    @property
    def unreleased(self) -> tuple[DriveCard, ...]:
        """Drives on which content stands without a valid release."""
        waits = ("bare", "unsure release")
        return tuple(c for c in self.holding if any(not i.gone and i.standing in waits for i in c.intervals))

    @property
    def says(self) -> str:
        if not self.holding:
            return "Nothing of yours is on these drives any more."
        count, waiting = len(self.holding), len(self.unreleased)
        holds = f"{count} drive{'s hold' if count > 1 else ' holds'} content of yours."
        return f"{holds} {waiting} of them you have not released." if waiting else f"{holds} All of it is released."


def references_of(person: Person | None) -> frozenset[str]:
    """The shows a client may see, by code."""
    return frozenset(ClientReference.objects.filter(person=person).values_list("reference", flat=True))


def sets_of(references: Collection[str], at: datetime) -> list[DriveSet]:
    """The sets that recorded these shows, and those in which a drive that holds them is a member now."""
    if not references:
        return []
    wipe_book = open_book(book_for(references=references), at)
    found = {one.entry.drive_set for one in wipe_book.content.recordings if one.entry.reference in references}
    found |= _sets_of_holders(wipe_book, references)
    return list(DriveSet.objects.filter(pk__in=found - {None}).select_related("host"))


def _sets_of_holders(wipe_book: WipeBook, references: Collection[str]) -> set[int | None]:
    held = {drive for one in references for drive in drives_of(wipe_book.content, one)}
    holders = {d for d in held if any(set(p.references) & set(references) for p in wipe_book.still_holds(d))}
    scene, now = wipe_book.content.scene, (wipe_book.at, LAST_ID)
    return {one for one in wipe_book.book.sets if holders & set(members(scene, one, now))}


def client_pages(sets: Sequence[DriveSet], references: Collection[str], at: datetime) -> list[ClientPage]:
    """The pages of these sets, with everything cut away that is not of these shows."""
    return [
        ClientPage(page.drive_set, _own(page.cards, references), tuple(sorted(set(references) & set(page.references))))
        for page in set_pages(sets, at)
    ]


def client_page(slug: str, references: Collection[str], at: datetime) -> ClientPage | None:
    """One set, if it recorded or holds one of these shows."""
    found = [one for one in sets_of(references, at) if one.slug == slug]
    return client_pages(found, references, at)[0] if found else None


def _own(cards: Sequence[DriveCard], references: Collection[str]) -> tuple[DriveCard, ...]:
    cut = ((card, tuple(_named(one, references) for one in card.intervals)) for card in cards)
    own = ((card, tuple(one for one in intervals if one.references)) for card, intervals in cut)
    return tuple(replace(card, intervals=intervals, remarks=()) for card, intervals in own if intervals)


def _named(interval: Interval, references: Collection[str]) -> Interval:
    """The interval under its own shows' names only."""
    own = tuple(one for one in interval.references if one in references)
    return replace(interval, references=own, reference=" and ".join(own), grounds=())
