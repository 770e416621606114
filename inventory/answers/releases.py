"""Whether a piece of content is released, and whether enough copies of it are confirmed elsewhere."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from inventory.answers.bench_rules import COPIES
from inventory.answers.content import ContentBook, Piece, members
from inventory.answers.drive_rows import ALWAYS, LAST_ID, Book, CopyRow, MandateRow, PlaceRow, ReleaseRow
from inventory.answers.values import Reason
from inventory.folding import fold
from inventory.models import Wipe


@dataclass(frozen=True, slots=True)
class Standing:
    """How a piece stands: released, unsure release or bare; the releases that cover it, and what to do if none does."""

    word: str
    releases: tuple[ReleaseRow, ...] = ()
    sentence: str = ""
    way_out: str = ""


def mandates_in_force(book: Book, reference: str, on: datetime, known: datetime) -> dict[str, MandateRow]:
    """For each owner of a show's content, the row in force on that date; a later row neither heals nor breaks it."""
    rows = [m for m in book.mandates if m.reference == reference and m.in_force_from <= on and m.entered_at <= known]
    return {row.owner: row for row in sorted(rows, key=lambda row: (row.in_force_from, row.id))}


def standing(content: ContentBook, piece: Piece) -> Standing:
    """The standing of one piece: it is as weak as its weakest reference."""
    if not piece.references:
        way_out = "A kit manager names whose it is; only then can it be released."
        return Standing("bare", sentence=f"It holds {piece.called}.", way_out=way_out)
    found = [_for_reference(content, piece, reference) for reference in piece.references]
    worst = min(found, key=lambda one: ("bare", "unsure release", "released").index(one.word))
    return worst if worst.word != "released" else Standing("released", tuple(r for one in found for r in one.releases))


def _for_reference(content: ContentBook, piece: Piece, reference: str) -> Standing:
    book = content.book
    rows = [r for r in book.releases if r.reference == reference and _covers_time(r, piece, content.at)]
    exact = [r for r in rows if piece.drive in r.serials]
    valid = [r for r in exact if _has_authority(book, r)]
    if valid:
        return _all_owners(content, reference, valid)
    if exact:
        return _no_authority(book, exact[-1])
    by_set = [r for r in rows if _names_its_set(content, r, piece.drive)]
    if by_set:
        return _names_a_set(book, by_set[-1])
    return _bare(content, piece, reference)


def _covers_time(release: ReleaseRow, piece: Piece, at: datetime) -> bool:
    withdrawn = release.withdrawn_at is not None and release.withdrawn_at <= at
    return release.entered_at <= at and not withdrawn and piece.end[0] <= release.effective


def _has_authority(book: Book, release: ReleaseRow) -> bool:
    rows = mandates_in_force(book, release.reference, release.effective, release.entered_at)
    return any(release.person in row.persons for row in rows.values())


def _names_its_set(content: ContentBook, release: ReleaseRow, drive: int) -> bool:
    if release.drive_set is None or release.serials:
        return False
    return drive in members(content.scene, release.drive_set, (release.effective, LAST_ID))


def _all_owners(content: ContentBook, reference: str, valid: list[ReleaseRow]) -> Standing:
    """Several owners: each releases, as the owners stood on the date of one of these releases."""
    lacking = [_owners_lacking(content.book, release, valid) for release in valid]
    if not all(lacking):
        return Standing("released", tuple(valid))
    names = " and ".join(sorted(min(lacking, key=len)))
    return Standing("bare", tuple(valid), f"{names} owns {reference} too and has not released it.", f"Ask {names}.")


def _owners_lacking(book: Book, release: ReleaseRow, valid: list[ReleaseRow]) -> set[str]:
    owners = mandates_in_force(book, release.reference, release.effective, release.entered_at)
    return {owner for owner, row in owners.items() if not any(r.person in row.persons for r in valid)}


def _who_may(book: Book, reference: str, at: datetime) -> str:
    names = [name for row in mandates_in_force(book, reference, at, at).values() for name in row.names]
    return " or ".join(names)


def _no_authority(book: Book, release: ReleaseRow) -> Standing:
    who = _who_may(book, release.reference, release.entered_at)
    sentence = (
        f"{release.person_name} released {release.reference} on {release.effective:%d %b}, but nothing says that "
        f"{release.person_name} may."
    )
    way_out = f"Ask {who}." if who else "A kit manager enters who may release it; then that person releases it."
    return Standing("unsure release", (release,), sentence, way_out)


def _names_a_set(book: Book, release: ReleaseRow) -> Standing:
    name = book.sets[release.drive_set or 0].name
    sentence = f"The release of {release.reference} by {release.person_name} names {name}, not this serial."
    return Standing(
        "unsure release", (release,), sentence, f"Ask {release.person_name} for a release that lists this serial."
    )


def _bare(content: ContentBook, piece: Piece, reference: str) -> Standing:
    who = _who_may(content.book, reference, content.at)
    way_out = (
        f"Ask {who} to release it, serial by serial." if who
        else "A kit manager enters who may release it; then ask that person."
    )  # fmt: skip
    gone = [r for r in content.book.releases if r.reference == reference and piece.drive in r.serials]
    withdrawn = [r for r in gone if r.withdrawn_at is not None and r.withdrawn_at <= content.at]
    early = [r for r in gone if r.entered_at <= content.at and r not in withdrawn and piece.end[0] > r.effective]
    sentence = f"It holds {reference} and nobody has released that."
    if withdrawn:
        sentence = f"It holds {reference}; the release was withdrawn: {withdrawn[-1].withdrawn_why}"
    elif early:
        sentence = f"It holds {reference}, recorded after the release of {early[-1].effective:%d %b %H:%M}."
    return Standing("bare", (), sentence, way_out)


def copies_reason(content: ContentBook, piece: Piece, stands: Standing) -> Reason | None:
    """Why the copies of this piece do not do, or None if they do."""
    if any(release.no_copies_wanted for release in stands.releases) and stands.word == "released":
        return None
    for reference in piece.references or ("",):
        rule = _copies_wanted(content, reference, stands)
        reason = _too_few(content, piece, reference, rule)
        if reason is not None:
            return reason
    return None


def _copies_wanted(content: ContentBook, reference: str, stands: Standing) -> tuple[int, int, int]:
    """Copies besides the drives, media, elsewhere: the strictest owner counts; fewer needs the owner's document."""
    release = stands.releases[0] if stands.releases else None
    on, known = (release.effective, release.entered_at) if release else (content.at, content.at)
    usual = _usual(content.book, on)
    wanted = [_of_mandate(row, usual) for row in mandates_in_force(content.book, reference, on, known).values()]
    wanted = wanted or [usual]
    return max(w[0] for w in wanted), max(w[1] for w in wanted), max(w[2] for w in wanted)


def _usual(book: Book, on: datetime) -> tuple[int, int, int]:
    """What is asked where no agreement says more, by the limits of that day."""
    copies, media, elsewhere = (book.limits.on(on, COPIES, name) for name in ("copies", "media", "elsewhere"))
    return copies, media, elsewhere


def _of_mandate(row: MandateRow, usual: tuple[int, int, int]) -> tuple[int, int, int]:
    asked = (row.copies, row.media, row.elsewhere)
    if row.owners_document:
        return asked
    return max(asked[0], usual[0]), max(asked[1], usual[1]), max(asked[2], usual[2])


def _too_few(content: ContentBook, piece: Piece, reference: str, wanted: tuple[int, int, int]) -> Reason | None:
    good = confirmed_copies(content, piece, reference)
    media = {fold(copy.medium) for copy in good}
    away = [copy for copy in good if _is_elsewhere(content, copy, piece.drive)]
    have = (len(good), len(media), len(away))
    if all(had >= want for had, want in zip(have, wanted, strict=True)):
        return None
    named = reference or piece.called
    sentence = (
        f"{have[0]} of {wanted[0]} copies of {named} confirmed, on {have[1]} of {wanted[1]} media, "
        f"{have[2]} of {wanted[2]} elsewhere."
    )
    way_out = "Make and verify the copies that lack, or have a kit manager enter the owner's document for fewer."
    return Reason("too few copies", sentence, way_out, piece.entries[:1], (piece.drive,))


def confirmed_copies(content: ContentBook, piece: Piece, reference: str) -> list[CopyRow]:
    """Copies that count: verified, not bad, made after the last recording, their carrier untouched since."""
    rows = copies_of(content, reference)
    own = next((c.serials for c in content.book.copies if c.first == piece.copy), frozenset())
    last = max((p.end[0] for p in content.of(piece.drive) if _recorded(p, reference)), default=ALWAYS[0])
    return [
        copy
        for copy in rows
        if (piece.drive in copy.serials or (own and own <= copy.serials and copy.first != piece.copy))
        and (piece.copy is not None or copy.made_at >= last)
        and copy.verified_at is not None
        and copy.verified_at <= content.at
        and not copy.reported_bad
        and _carrier_holds(content, copy)
    ]


def copies_of(content: ContentBook, reference: str) -> list[CopyRow]:
    """Every copy of a show that is in the book, as its newest row says it, whether or not it counts."""
    return [copy for copy in _newest(content.book.copies, content.at) if copy.reference == reference]


def _recorded(piece: Piece, reference: str) -> bool:
    return reference in piece.references and piece.copy is None and piece.is_sure


def _newest(copies: Iterable[CopyRow], at: datetime) -> list[CopyRow]:
    return [
        copy
        for copy in copies
        if copy.entered_at <= at and (copy.replaced_at is None or copy.replaced_at > at)
    ]  # fmt: skip


def _carrier_holds(content: ContentBook, copy: CopyRow) -> bool:
    """Its drive did not record the show itself and was neither wiped nor recorded on since."""
    if copy.on_drive is None:
        return True
    pieces = [piece for piece in content.of(copy.on_drive) if piece.copy is None]
    recorded = any(copy.reference in p.references or p.end[0] > copy.made_at for p in pieces)
    wiped = any(
        w.drive == copy.on_drive and w.step == Wipe.Step.BEGUN and copy.made_at <= w.at <= content.at
        for w in content.book.wipes
    )
    return not recorded and not wiped


def _is_elsewhere(content: ContentBook, copy: CopyRow, drive: int) -> bool:
    """Not where the drive is: another store or building; one case or vehicle is one place."""
    scene, key = content.scene, (content.at, LAST_ID)
    mine = _root(content.book, scene.outermost(drive, key))
    if mine is None:
        return False
    if copy.on_drive is not None:
        other = _root(content.book, scene.outermost(copy.on_drive, key))
        return other is not None and other.id != mine.id
    if copy.place is not None:
        other = _root(content.book, _spot(content, content.book.places.get(copy.place)))
        return other is not None and other.id != mine.id
    return bool(copy.place_words) and fold(copy.place_words) != fold(mine.name)


def _spot(content: ContentBook, place: PlaceRow | None) -> PlaceRow | None:
    """Where a place is: for the inside of a case or vehicle, where that is now, else the case itself."""
    if place is None or place.item is None:
        return place
    return content.scene.outermost(place.item, (content.at, LAST_ID)) or place


def _root(book: Book, place: PlaceRow | None) -> PlaceRow | None:
    """The store, venue, road or hands at the top."""
    while place is not None and place.parent is not None and place.parent in book.places:
        place = book.places[place.parent]
    return place


def root_of(content: ContentBook, drive: int) -> PlaceRow | None:
    """The store, venue, road or hands where a drive is now, or None."""
    return _root(content.book, content.scene.outermost(drive, (content.at, LAST_ID)))
