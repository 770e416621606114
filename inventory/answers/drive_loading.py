"""Reads from the database all that a question about some drives may need, in a number of queries that does not grow."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable
from typing import Any
from uuid import UUID

from django.db.models import Q

from inventory.answers import bench_rules
from inventory.answers import drive_queries as ask
from inventory.answers.drive_rows import (
    AcceptanceRow,
    Book,
    CopyRow,
    EntryRow,
    HoldRow,
    MandateRow,
    PlaceRow,
    ReleaseRow,
    SetRow,
    ThingRow,
    Undoing,
    WipeRow,
)
from inventory.answers.refs import CODES, NAMED, code_in, ref_of
from inventory.models import Copy, Entry, Kind, Role, Verb
from inventory.unchanged import kept

ROUNDS = 3  # drives, those that share a set or frame with them, and those that share one with those
DEPTH = 6  # drive, box, case, pallet, vehicle, road: deeper stacks are read no further


def _each(rows: Iterable[tuple[Any, ...]]) -> set[Any]:
    """The one column of these rows, each value once; nothing where a row has none."""
    return {value for (value,) in rows} - {None}


def book_for(drives: Iterable[int] = (), sets: Iterable[int] = (), references: Iterable[str] = ()) -> Book:
    """The book of these drives, of every drive of these sets, and of every drive that may hold these shows."""
    asked = (frozenset(drives), frozenset(sets), frozenset(references))
    return kept(("drives", *asked), None, lambda: _book_for(*asked))


def _book_for(drives: Collection[int], sets: Collection[int], references: Collection[str]) -> Book:
    sets = {*sets, *_sets_that_recorded(references)}
    wanted = {*drives, *_drives_of_sets(sets), *_drives_named_with(references)}
    related = _related(wanted, sets)
    related |= _carriers_of_copies(related)
    return _book(related)


def _sets_that_recorded(references: Iterable[str]) -> set[int]:
    return _each(ask.RECORDED(references=references))


def _drives_named_with(references: Iterable[str]) -> set[int]:
    """Drives that an entry, a release or a copy names together with these shows."""
    names = list(references)
    if not names:
        return set()
    told = Entry.objects.filter(Q(reference__in=names) | Q(verb=Verb.AMENDED, after__in=names))
    found = told.filter(label__item__type__kind=Kind.DRIVE).order_by().values_list("label__item", flat=True)
    frames = told.filter(label__item__type__kind=Kind.FRAME).order_by().values_list("label__item", flat=True)
    copies = Copy.objects.filter(reference__in=names, on_drive__isnull=False).values_list("on_drive", flat=True)
    return {*found.distinct(), *copies, *_drives_in_frames(set(frames.distinct()))}


def _drives_of_sets(sets: Iterable[int]) -> set[int]:
    return _each(ask.OF_SETS(sets=sets))


def _drives_in_frames(frames: Iterable[int]) -> set[int]:
    return _each(ask.IN_FRAMES(frames=frames))


def _related(drives: set[int], sets: set[int]) -> set[int]:
    """Everything that shared a set, a host or a frame with these drives, near enough to matter."""
    found = set(drives)
    for _ in range(ROUNDS):
        sets = sets | _each(ask.JOINED(drives=found))
        frames = _each(ask.SAT_IN(drives=found)) | _each(ask.HOST_FRAMES(sets=sets))
        more = found | _drives_of_sets(sets) | _drives_in_frames(frames)
        if more == found:
            break
        found = more
    return found


def _carriers_of_copies(drives: set[int]) -> set[int]:
    """Drives that carry copies of what these drives hold, and drives their serials were read as."""
    return _each(ask.CARRIERS(drives=drives))


def _book(drives: set[int]) -> Book:
    drives = drives | _read_as(drives)
    entries, holders = _entries(drives)
    places = _places(row.place for row in entries)
    things = _things({*drives, *holders, *(p.item for p in places.values() if p.item), *_frames(entries)})
    sets = {row[0]: SetRow(*row) for row in ask.SETS()}
    kept = frozenset(pk for pk in drives if pk in things)
    mandates, releases, holds, copies = _decided()
    return Book(
        entries, things, places, sets, kept, mandates, releases, holds, copies, _wipes(kept), _acceptances(kept),
        bench_rules.dated(),
    )  # fmt: skip


def _decided() -> tuple[tuple[MandateRow, ...], tuple[ReleaseRow, ...], tuple[HoldRow, ...], tuple[CopyRow, ...]]:
    """What was decided of any content, and every copy: few rows, and the same for every book."""
    return kept("decided of content", None, lambda: (_mandates(), _releases(), _holds(), _copies()))


def _read_as(drives: set[int]) -> set[int]:
    """Drives whose serial was read in one of these sleds, and sleds in which one of these was read."""
    return _each([*ask.READ_HERE(drives=drives), *ask.READ_IN(drives=drives)])


def _entries(drives: set[int]) -> tuple[tuple[EntryRow, ...], set[int]]:
    """Entries of the drives, of what held them, and every recording; with the ids of the holders."""
    labels = _labels(drives)
    rows = ask.OF_LABELS(labels=labels)
    rows += ask.ON_SETS_ELSEWHERE(labels=labels or [0])  # no code has that key: of no drives, everything on sets
    seen, todo = set(drives), _containers(rows)
    for _ in range(DEPTH):
        todo -= seen
        if not todo:
            break
        seen |= todo
        more = ask.OF_HOLDERS(labels=_labels(todo))
        rows += more
        todo = _containers(more)
    return tuple(sorted(_frozen(rows), key=lambda row: row.key)), seen


def _labels(items: Iterable[int]) -> list[int]:
    return [pk for (pk,) in ask.LABELS(items=items)]


def _containers(rows: Iterable[tuple[Any, ...]]) -> set[int]:
    places = {row[ask.FIELDS.index("place")] for row in rows} - {None}
    return _each(ask.CONTAINERS(places=places))


def _frames(entries: Iterable[EntryRow]) -> set[int]:
    """Frames that a recording names, and the hosts of every set."""
    named = {row.item for row in entries if row.verb in ask.ON_SETS and row.item is not None}
    return named | _each(ask.HOSTS())


def _frozen(rows: list[tuple[Any, ...]]) -> list[EntryRow]:
    undone = _undoings()
    found = []
    for row in rows:
        act, verb, device = row[1], row[2], row[-1]
        if verb == Verb.CORRECTED:
            continue
        taken = () if verb == Verb.AMENDED else _taken_back(undone.get(act, ()), device)
        found.append(EntryRow(*row[:14], row[14] or "", *row[15:-1], taken))
    return found


def _undoings() -> dict[UUID, list[tuple[UUID, str, bool, UUID | None]]]:
    """Corrections by the act they name (rules, P4): by a kit manager without a pass, or by some device."""
    found: dict[UUID, list[tuple[UUID, str, bool, UUID | None]]] = {}
    for pk, by, role, day_pass, device, act in ask.UNDOINGS():
        found.setdefault(act, []).append((pk, by, role == Role.KIT_MANAGER and day_pass is None, device))
    return found


def _taken_back(undoings: Iterable[tuple[UUID, str, bool, UUID | None]], device: UUID | None) -> tuple[Undoing, ...]:
    return tuple(
        Undoing(pk, by) for pk, by, manager, theirs in undoings if manager or (device is not None and theirs == device)
    )


def _places(ids: Iterable[int | None]) -> dict[int, PlaceRow]:
    wanted = {pk for pk in ids if pk is not None}
    copies = _each(ask.PLACES_OF_COPIES())
    found: dict[int, PlaceRow] = {}
    todo = wanted | copies
    while todo:
        found |= {row[0]: _place(row) for row in ask.PLACES(places=todo)}
        todo = {row.parent for row in found.values() if row.parent} - found.keys()
    return found


def _place(row: tuple[Any, ...]) -> PlaceRow:
    pk, name, kind, item, container, person_id, person, role, house, is_ours, parent = row
    outside = person_id is not None and (role == Role.CLIENT or (house is not None and not is_ours))
    holds = item is None or container is not None
    return PlaceRow(pk, name, kind, item, holds, person or "", person_id, outside, parent)


def _things(ids: set[int]) -> dict[int, ThingRow]:
    codes = code_in(rows := CODES(items=ids))
    in_use = {item for item, _code, retired_at in rows if retired_at is None}
    return {row[0]: _thing(row, codes[row[0]] if row[0] in in_use else "") for row in ask.THINGS(items=ids)}


def _thing(row: tuple[Any, ...], code: str) -> ThingRow:
    kind, serial_key, unreadable_since, owner, is_ours, system, solid_state = row[len(NAMED) :]
    ref = ref_of(code, *row[: len(NAMED)])
    return ThingRow(ref, kind, serial_key, unreadable_since is not None, owner, is_ours, system, solid_state)


def _mandates() -> tuple[MandateRow, ...]:
    rows = ask.MANDATES()
    persons: dict[int, list[tuple[int, str]]] = defaultdict(list)
    for mandate, person, name in ask.MAY_RELEASE() if rows else ():
        persons[mandate].append((person, name))
    return tuple(
        MandateRow(
            pk, reference, owner, frozenset(person for person, _name in persons[pk]),
            tuple(name for _person, name in persons[pk]), *more,
        )
        for pk, reference, owner, *more in rows
    )  # fmt: skip


def _drives_by(rows: Iterable[tuple[int, int]]) -> dict[int, frozenset[int]]:
    """Rows of something and one of its drives, together."""
    found: dict[int, set[int]] = defaultdict(set)
    for one, drive in rows:
        found[one].add(drive)
    return {one: frozenset(drives) for one, drives in found.items()}


def _releases() -> tuple[ReleaseRow, ...]:
    rows = ask.RELEASES()
    released = _drives_by(ask.RELEASED() if rows else ())
    return tuple(
        ReleaseRow(pk, reference, person, name, released.get(pk, frozenset()), *more, why or "")
        for pk, reference, person, name, *more, why in rows
    )


def _holds() -> tuple[HoldRow, ...]:
    return tuple(HoldRow(*row) for row in ask.HOLDS())


def _copies() -> tuple[CopyRow, ...]:
    rows = ask.COPIES()
    copied = _drives_by(ask.COPIED() if rows else ())
    entered = {pk: entered_at for pk, _replaces, _reference, _made_at, entered_at, *_more in rows}
    replaced = {replaces: entered[pk] for pk, replaces, *_more in rows if replaces}
    first: dict[int, int] = {}
    for pk, replaces, *_more in rows:
        first[pk] = first.get(replaces or 0, pk)
    return tuple(
        CopyRow(pk, first[pk], *more, copied.get(pk, frozenset()), replaced.get(pk)) for pk, _replaces, *more in rows
    )


def _wipes(drives: frozenset[int]) -> tuple[WipeRow, ...]:
    return tuple(WipeRow(*row) for row in ask.WIPES(drives=drives))


def _acceptances(drives: frozenset[int]) -> tuple[AcceptanceRow, ...]:
    return tuple(AcceptanceRow(*row) for row in ask.ACCEPTANCES(drives=drives))
