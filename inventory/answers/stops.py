"""What makes the wipe answer NO. Every reason names its way out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from inventory.answers import custody
from inventory.answers.content import Piece, members
from inventory.answers.drive_rows import ALWAYS, LAST_ID, Key
from inventory.answers.releases import Standing, copies_reason, root_of
from inventory.answers.starts import WipeBook
from inventory.answers.values import Reason, sentence_of, told_in_one
from inventory.models import PlaceKind, Role, Verb, Wipe


def told_once(reasons: Iterable[Reason]) -> list[Reason]:
    """What is true of several other drives, put together: which they are, and then what is true of each."""
    found: dict[tuple[str, str, str], list[Reason]] = {}
    for reason in reasons:
        found.setdefault(reason.alike, []).append(reason)
    return [alike[0] if len(alike) == 1 else _together(alike) for alike in found.values()]


def _together(alike: Sequence[Reason]) -> Reason:
    first = alike[0]
    entries = tuple(dict.fromkeys(entry for one in alike for entry in one.entries))
    return replace(
        first, sentence=told_in_one(alike), entries=entries, items=tuple(i for one in alike for i in one.items)
    )


def stops(wb: WipeBook, drive: int, pieces: list[Piece], stands: dict[Piece, Standing]) -> list[Reason]:
    """Everything that makes it NO."""
    return [
        *_destroyed(wb, drive),
        *_holds(wb, drive, pieces),
        *_recording(pieces),
        *_under_way(wb, drive),
        *_away(wb, drive),
        *_erased(wb, drive, stands),
        *_bare(pieces, stands),
        *_copies(wb, pieces, stands),
        *_incomplete(wb, drive, pieces),
    ]


def _holds(wb: WipeBook, drive: int, pieces: list[Piece]) -> list[Reason]:
    key = (wb.at, LAST_ID)
    shows = {reference for piece in pieces for reference in piece.references}
    sets = {s for s in wb.book.sets if drive in members(wb.content.scene, s, key)}
    sets |= {piece.drive_set for piece in pieces if piece.drive_set is not None}
    found = []
    for hold in wb.book.holds:
        if hold.entered_at > wb.at or (hold.lifted_at is not None and hold.lifted_at <= wb.at):
            continue
        if hold.drive == drive or hold.drive_set in sets or (hold.reference and hold.reference in shows):
            sentence = f"On hold since {hold.entered_at:%d %b} by {hold.by}: {hold.why}"
            way_out = f"{hold.by} or a kit manager lifts the hold."
            found.append(Reason("hold", sentence, way_out, items=(drive,)))
    return found


def _recording(pieces: list[Piece]) -> list[Reason]:
    return [
        Reason(
            "recording", f"It is recording {piece.called}.", "Stop the recording, and say so here.",
            piece.entries, (piece.drive,),
        )
        for piece in pieces
        if piece.is_open and "corrected" not in piece.marks
    ]  # fmt: skip


def _under_way(wb: WipeBook, drive: int) -> list[Reason]:
    rows = wb.wipes(drive)
    done = {w.job for w in rows if w.step != Wipe.Step.BEGUN}
    return [
        Reason(
            "wipe under way", f"{w.by} began a wipe on {w.at:%d %b %H:%M}.",
            "Let a second person verify it, or record that it stopped or failed.", items=(drive,),
        )
        for w in rows
        if w.step == Wipe.Step.BEGUN and w.job not in done
    ]  # fmt: skip


def _away(wb: WipeBook, drive: int) -> list[Reason]:
    scene = wb.content.scene
    place = scene.outermost(drive, (wb.at, LAST_ID))
    holders = scene.chain(drive, (wb.at, LAST_ID))
    inside = [wb.book.places[s.where].item for s in holders if s.where in wb.book.places]
    if any(custody.is_missing(scene, item) for item in [drive, *(i for i in inside if i is not None)]):
        return [Reason("lost", "It is missing.", "Find it, scan it, then look at what happened to it.", items=(drive,))]
    if place is not None and place.outside:
        way_out = f"Get it back from {place.person}."
        return [Reason("with client", f"It is with {place.person}.", way_out, items=(drive,))]
    return []


def is_destroyed(wb: WipeBook, drive: int) -> bool:
    place = wb.content.scene.outermost(drive, (wb.at, LAST_ID))
    return destroyed_at(wb, drive) is not None or (place is not None and place.kind == PlaceKind.GONE)


def destroyed_at(wb: WipeBook, drive: int) -> Key | None:
    """Since when it is destroyed by the record of a wipe, or None."""
    rows = [w for w in wb.wipes(drive) if w.step == Wipe.Step.VERIFIED and w.method == Wipe.Method.DESTROY]
    return (min(w.at for w in rows), LAST_ID) if rows else None


def _destroyed(wb: WipeBook, drive: int) -> list[Reason]:
    if not is_destroyed(wb, drive):
        return []
    return [Reason("destroyed", "It is destroyed or written off.", "There is nothing left to wipe.", items=(drive,))]


def _erased(wb: WipeBook, drive: int, stands: dict[Piece, Standing]) -> list[Reason]:
    """A verified wipe that does not count, or one that somebody told of: NO until all of it is released."""
    start = wb.start(drive)
    times = [row.key for row in wb.content.scene.of_item.get(drive, ()) if row.verb == Verb.ERASED]
    verified = [w for w in wb.wipes(drive) if w.step == Wipe.Step.VERIFIED and w.method != Wipe.Method.DESTROY]
    times += [(w.at, 0) for w in verified if not wb.counted.counts(w)]
    times = [key for key in times if start.known is None or key > start.known]
    if not times or (stands and all(one.word == "released" for one in stands.values())):
        return []
    sentence = f"It was erased without release on {max(times)[0]:%d %b}."
    way_out = (
        "Tell the owner and write nothing on it; once all of it is released, it may be wiped." if stands
        else "A kit manager looks, and says what is on it or declares it blank."
    )  # fmt: skip
    return [Reason("erased without release", sentence, way_out, items=(drive,))]


def _bare(pieces: list[Piece], stands: dict[Piece, Standing]) -> list[Reason]:
    return [
        Reason("not released", stands[p].sentence, stands[p].way_out, p.entries, (p.drive,))
        for p in pieces
        if stands[p].word == "bare" and p.is_sure
    ]


def _copies(wb: WipeBook, pieces: list[Piece], stands: dict[Piece, Standing]) -> list[Reason]:
    found = [copies_reason(wb.content, piece, stands[piece]) for piece in pieces if piece.is_sure]
    return list({reason.sentence: reason for reason in found if reason is not None}.values())


def _incomplete(wb: WipeBook, drive: int, pieces: list[Piece]) -> list[Reason]:
    """Another drive that still holds the same recording is lost, with a client, or in another store."""
    sources = {piece.source for piece in pieces if piece.is_sure and piece.copy is None}
    if not sources:
        return []
    broken = _broken_up(wb, pieces)
    found = []
    for other in sorted(wb.book.drives - {drive}):
        same = [p for p in wb.content.of(other) if p.source in sources and p.is_sure]
        shared = [p for p in same if not _sets_of(wb, p) & broken] if broken else same
        if not shared or is_destroyed(wb, other) or not {p.source for p in wb.still_holds(other)} & sources:
            continue
        why = _out_of_reach(wb, drive, other)
        if why:
            who, rest = wb.book.words(other), f"holds the same recording of {shared[0].called} and {why}."
            way_out = "Bring the drives together, or a kit manager declares the set broken up and says why."
            sentence = sentence_of([who], rest)
            found.append(Reason("set incomplete", sentence, way_out, shared[0].entries, (other,), who, rest))
    return found


def _sets_of(wb: WipeBook, piece: Piece) -> set[int]:
    """The set that a piece was recorded with; where only a frame was named, the sets its drive was a member of then."""
    if piece.drive_set is not None:
        return {piece.drive_set}
    return {one for one in wb.book.sets if piece.drive in members(wb.content.scene, one, piece.start)}


def _broken_up(wb: WipeBook, pieces: list[Piece]) -> set[int]:
    """Sets that a kit manager broke up after these recordings."""
    last = max((piece.end for piece in pieces), default=ALWAYS)
    return {
        row.drive_set
        for row in wb.content.scene.verbs(Verb.BROKEN_UP)
        if row.role == Role.KIT_MANAGER and row.key >= last and row.note and row.drive_set is not None
    }


def _out_of_reach(wb: WipeBook, drive: int, other: int) -> str:
    away = _away(wb, other)
    if away:
        return "is lost" if away[0].word == "lost" else away[0].sentence.replace("It is", "is").rstrip(".")
    here, there = root_of(wb.content, drive), root_of(wb.content, other)
    if here is not None and there is not None and here.id != there.id and there.kind == PlaceKind.STORE:
        return f"is in another store, {there.name}"
    return ""
