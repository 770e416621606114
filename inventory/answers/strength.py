"""How sure one link is: `item` in `place`, and on which entries that stands. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple
from uuid import UUID

from inventory.answers.book import Bay, Book, Row, bay_of, dispute, missing
from inventory.answers.seals import Interior, Opening
from inventory.answers.values import Evidence, Link, Strength

Interiors = Mapping[int, Interior]
NEVER = "or was never in there"


class Judged(NamedTuple):
    """A strength, the entries it stands on besides the placing, and words to add."""

    strength: Strength
    rows: tuple[UUID, ...] = ()
    remark: str = ""


def evidence_of(book: Book, row: Row | None) -> Evidence | None:
    if row is None:
        return None
    return Evidence(
        row.id, row.verb, row.grade, row.by, row.at, row.stated, row.id in book.doubts, row.seal, row.note
    )  # fmt: skip


def link_of(book: Book, item: int, interiors: Interiors) -> Link:
    """The link of a thing that has a placing or a planned place; loops are the caller's business."""
    stay = book.stay(item)
    if not stay:
        return _planned(book, item)
    seen = book.sight(item)
    placing = stay[-1]
    inside = interiors.get(book.spots[placing.place or 0].item or 0)
    bay = bay_of(book, item)
    judged = max(_overrides(book, item) + [_inside(seen, inside)], key=lambda one: one.strength.rank)
    return Link(
        item=book.things[item].ref,
        place=book.spots[placing.place or 0].ref,
        bay=bay.label,
        strength=judged.strength,
        placing=evidence_of(book, placing),
        evidence=evidence_of(book, seen),
        seal=inside.seal.seal if inside and inside.is_sealed and inside.seal else "",
        remark=judged.remark,
        cites=_cites(book, stay, seen, bay, judged, inside),
    )


class Links(dict[int, Link]):
    """The links of a loaded book by item, each judged when it is first asked for."""

    def __init__(self, book: Book, interiors: Interiors) -> None:
        super().__init__()
        self.book, self.interiors = book, interiors

    def __missing__(self, item: int) -> Link:
        self[item] = link_of(self.book, item, self.interiors)
        return self[item]


def _planned(book: Book, item: int) -> Link:
    spot = book.spots[book.planned[item]]
    return Link(book.things[item].ref, spot.ref, "", Strength.PLANNED_ONLY)


def _overrides(book: Book, item: int) -> list[Judged]:
    """What weakens a link whatever its evidence: two stories, or a thing looked for and not found."""
    found = []
    stories = dispute(book, item)
    if stories:
        doubts = tuple(book.doubts[row.id].entry for row in stories if row.id in book.doubts)
        found.append(Judged(Strength.IN_DISPUTE, (*(row.id for row in stories), *doubts)))
    missed = missing(book, item)
    if missed:
        found.append(Judged(Strength.MISSING, (missed.id,)))
    return found


def _inside(seen: Row | None, inside: Interior | None) -> Judged:
    """The word of a thing in a container by its newest own sight there."""
    if seen is None:
        return Judged(Strength.SAID)
    if inside is None:
        return Judged(Strength.SEEN)
    openings = inside.opened_after(seen)
    if openings:
        remark = NEVER if len(openings) == 1 and openings[0].taken_out and openings[0].seal else ""
        return Judged(Strength.WAS_IN_HERE, _grounds(openings[:2]), remark)
    if inside.is_sealed and inside.seal and seen.key < inside.seal.key:
        return Judged(Strength.SEALED_IN, (inside.seal.id,))
    if inside.moved and inside.moved[1].key > seen.key:
        return Judged(Strength.CARRIED, tuple(row.id for row in inside.moved))
    return Judged(Strength.SEEN)


def _grounds(openings: list[Opening]) -> tuple[UUID, ...]:
    return tuple(entry for one in openings for entry in (one.row.id, *one.grounds))


def _cites(
    book: Book, stay: list[Row], seen: Row | None, bay: Bay, judged: Judged, inside: Interior | None
) -> tuple[UUID, ...]:
    """The placing, the sight and the placing it belongs to, the bay's entries, the seal, and what judged it."""
    rows = [stay[-1], bay.named, bay.taken_by]
    if seen is not None:
        rows += [seen, next(row for row in reversed(stay) if row.key <= seen.key)]
    if inside and inside.is_sealed:
        rows.append(inside.seal)
    ids = [row.id for row in rows if row] + list(judged.rows)
    ids += [book.doubts[one].entry for one in ids if one in book.doubts]
    return tuple(dict.fromkeys(ids))
