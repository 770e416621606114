"""Reads from the database all that a question about some drives may need, in a number of queries that does not grow."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from typing import Any
from uuid import UUID

from django.db.models import Q

from inventory.answers import bench_rules
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
from inventory.models import (
    Acceptance,
    Copy,
    DriveSet,
    Entry,
    Hold,
    Item,
    Kind,
    Label,
    Mandate,
    Place,
    Release,
    Role,
    Verb,
    Wipe,
)
from inventory.prepared import Asked, Prepared
from inventory.unchanged import kept

ROUNDS = 3  # drives, those that share a set or frame with them, and those that share one with those
DEPTH = 6  # drive, box, case, pallet, vehicle, road: deeper stacks are read no further
FIELDS = (
    "id", "act", "verb", "happened_at", "received_at", "by", "role", "grade", "stated", "label__item", "place", "bay",
    "drive_set", "person", "person__name", "seal", "serial", "note", "value", "rule", "condition", "field", "before",
    "after", "reference", "due_at", "purpose", "device",
)  # fmt: skip
ON_SETS = (Verb.RECORDING, Verb.STOPPED, Verb.BROKEN_UP)


def _each(rows: Iterable[tuple[Any, ...]]) -> set[Any]:
    """The one column of these rows, each value once; nothing where a row has none."""
    return {value for (value,) in rows} - {None}


# Asked in rounds, and for every set and drive that a page tells of: put together once.
OF_SETS = Prepared(
    lambda sets: Entry.objects.filter(drive_set__in=sets, verb=Verb.JOINED).order_by()
    .values_list("label__item").distinct(),
    sets=Asked.IDS,
)  # fmt: skip
IN_FRAMES = Prepared(
    lambda frames: Entry.objects.filter(place__item__in=frames, label__item__type__kind=Kind.DRIVE).order_by()
    .values_list("label__item").distinct(),
    frames=Asked.IDS,
)  # fmt: skip
JOINED = Prepared(
    lambda drives: Entry.objects.filter(label__item__in=drives, verb=Verb.JOINED).order_by()
    .values_list("drive_set").distinct(),
    drives=Asked.TOLD_THINGS,
)  # fmt: skip
SAT_IN = Prepared(
    lambda drives: Entry.objects.filter(label__item__in=drives, place__item__type__kind=Kind.FRAME).order_by()
    .values_list("place__item").distinct(),
    drives=Asked.TOLD_THINGS,
)  # fmt: skip
HOST_FRAMES = Prepared(
    lambda sets: Item.objects.filter(
        type__kind=Kind.FRAME, home_system__in=DriveSet.objects.filter(pk__in=sets).values("host")
    ).order_by().values_list("pk"),
    sets=Asked.IDS,
)  # fmt: skip
LABELS = Prepared(lambda items: Label.objects.filter(item__in=items).order_by().values_list("pk"), items=Asked.IDS)
CONTAINERS = Prepared(
    lambda places: Place.objects.filter(pk__in=places, item__isnull=False).order_by().values_list("item"),
    places=Asked.IDS,
)
OF_LABELS = Prepared(
    lambda labels: Entry.objects.filter(label__in=labels).order_by().values_list(*FIELDS), labels=Asked.TOLD_CODES
)
OF_HOLDERS = Prepared(
    lambda labels: Entry.objects.filter(label__in=labels).exclude(verb__in=ON_SETS).order_by().values_list(*FIELDS),
    labels=Asked.TOLD_CODES,
)
READ = Entry.objects.filter(verb=Verb.SERIAL_READ).exclude(serial="").order_by()
READ_HERE = Prepared(
    lambda drives: Item.objects.filter(
        type__kind=Kind.DRIVE, serial__in=READ.filter(label__item__in=drives).values("serial")
    ).order_by().values_list("pk"),
    drives=Asked.TOLD_THINGS,
)  # fmt: skip
READ_IN = Prepared(
    lambda drives: READ.filter(
        serial__in=Item.objects.filter(pk__in=drives).exclude(serial="").order_by().values("serial")
    ).values_list("label__item"),
    drives=Asked.IDS,
)  # fmt: skip
PLACES = Prepared(
    lambda places: Place.objects.filter(pk__in=places).order_by().values_list(
        "pk", "name", "kind", "item", "item__type__container", "person", "person__name", "person__role",
        "person__organisation", "person__organisation__is_ours", "parent",
    ),
    places=Asked.IDS,
)  # fmt: skip
THINGS = Prepared(
    lambda items: Item.objects.filter(pk__in=items).order_by("number", "pk").values_list(
        *NAMED, "type__kind", "serial_key", "serial_unreadable_since", "owner__name", "owner__is_ours", "home_system",
        "type__solid_state",
    ),
    items=Asked.IDS,
)  # fmt: skip


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
    rows = Entry.objects.filter(reference__in=list(references), verb=Verb.RECORDING, drive_set__isnull=False)
    return set(rows.order_by().values_list("drive_set", flat=True).distinct())


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
    return _each(OF_SETS(sets=sets))


def _drives_in_frames(frames: Iterable[int]) -> set[int]:
    return _each(IN_FRAMES(frames=frames))


def _related(drives: set[int], sets: set[int]) -> set[int]:
    """Everything that shared a set, a host or a frame with these drives, near enough to matter."""
    found = set(drives)
    for _ in range(ROUNDS):
        sets = sets | _each(JOINED(drives=found))
        frames = _each(SAT_IN(drives=found)) | _each(HOST_FRAMES(sets=sets))
        more = found | _drives_of_sets(sets) | _drives_in_frames(frames)
        if more == found:
            break
        found = more
    return found


def _carriers_of_copies(drives: set[int]) -> set[int]:
    """Drives that carry copies of what these drives hold, and drives their serials were read as."""
    copies = Copy.objects.filter(serials__drive__in=drives, on_drive__isnull=False)
    return set(copies.order_by().values_list("on_drive", flat=True).distinct())


def _book(drives: set[int]) -> Book:
    drives = drives | _read_as(drives)
    entries, holders = _entries(drives)
    places = _places(row.place for row in entries)
    things = _things({*drives, *holders, *(p.item for p in places.values() if p.item), *_frames(entries)})
    sets = {row.pk: SetRow(row.pk, row.name, row.host_id) for row in DriveSet.objects.all()}
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
    return _each([*READ_HERE(drives=drives), *READ_IN(drives=drives)])


def _entries(drives: set[int]) -> tuple[tuple[EntryRow, ...], set[int]]:
    """Entries of the drives, of what held them, and every recording; with the ids of the holders."""
    labels = _labels(drives)
    rows = OF_LABELS(labels=labels)
    rows += Entry.objects.filter(verb__in=ON_SETS).exclude(label__in=labels).order_by().values_list(*FIELDS)
    seen, todo = set(drives), _containers(rows)
    for _ in range(DEPTH):
        todo -= seen
        if not todo:
            break
        seen |= todo
        more = OF_HOLDERS(labels=_labels(todo))
        rows += more
        todo = _containers(more)
    return tuple(sorted(_frozen(rows), key=lambda row: row.key)), seen


def _labels(items: Iterable[int]) -> list[int]:
    return [pk for (pk,) in LABELS(items=items)]


def _containers(rows: Iterable[tuple[Any, ...]]) -> set[int]:
    places = {row[FIELDS.index("place")] for row in rows} - {None}
    return _each(CONTAINERS(places=places))


def _frames(entries: Iterable[EntryRow]) -> set[int]:
    """Frames that a recording names, and the hosts of every set."""
    named = {row.item for row in entries if row.verb in ON_SETS and row.item is not None}
    hosts = Item.objects.filter(type__kind=Kind.FRAME, home_system__drive_sets__isnull=False)
    return named | set(hosts.order_by().values_list("pk", flat=True).distinct())


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
    rows = Entry.objects.filter(corrects__isnull=False).order_by("happened_at", "id")
    for pk, by, role, day_pass, device, act in rows.values_list("id", "by", "role", "day_pass", "device", "corrects"):
        found.setdefault(act, []).append((pk, by, role == Role.KIT_MANAGER and day_pass is None, device))
    return found


def _taken_back(undoings: Iterable[tuple[UUID, str, bool, UUID | None]], device: UUID | None) -> tuple[Undoing, ...]:
    return tuple(
        Undoing(pk, by) for pk, by, manager, theirs in undoings if manager or (device is not None and theirs == device)
    )


def _places(ids: Iterable[int | None]) -> dict[int, PlaceRow]:
    wanted = {pk for pk in ids if pk is not None}
    copies = set(Copy.objects.filter(place__isnull=False).values_list("place", flat=True))
    found: dict[int, PlaceRow] = {}
    todo = wanted | copies
    while todo:
        found |= {row[0]: _place(row) for row in PLACES(places=todo)}
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
    return {row[0]: _thing(row, codes[row[0]] if row[0] in in_use else "") for row in THINGS(items=ids)}


def _thing(row: tuple[Any, ...], code: str) -> ThingRow:
    kind, serial_key, unreadable_since, owner, is_ours, system, solid_state = row[len(NAMED) :]
    ref = ref_of(code, *row[: len(NAMED)])
    return ThingRow(ref, kind, serial_key, unreadable_since is not None, owner, is_ours, system, solid_state)


def _mandates() -> tuple[MandateRow, ...]:
    rows = Mandate.objects.select_related("content_owner").prefetch_related("persons__person")
    return tuple(
        MandateRow(
            m.pk,
            m.reference,
            m.content_owner.name,
            frozenset(p.person_id for p in m.persons.all()),
            tuple(p.person.name for p in m.persons.all()),
            m.copies,
            m.media,
            m.elsewhere,
            m.owners_document,
            m.in_force_from,
            m.entered_at,
        )  # fmt: skip
        for m in rows
    )


def _releases() -> tuple[ReleaseRow, ...]:
    rows = Release.objects.select_related("person", "withdrawal").prefetch_related("serials").order_by("pk")
    return tuple(_release(row) for row in rows)


def _release(row: Release) -> ReleaseRow:
    withdrawal = getattr(row, "withdrawal", None)
    return ReleaseRow(
        row.pk, row.reference, row.person_id, row.person.name, frozenset(s.drive_id for s in row.serials.all()),
        row.drive_set_id, row.no_copies_wanted, row.evidence, row.date, row.entered_at,
        withdrawal.entered_at if withdrawal else None, withdrawal.why if withdrawal else "",
    )  # fmt: skip


def _holds() -> tuple[HoldRow, ...]:
    rows = Hold.objects.select_related("lift").order_by("pk")
    return tuple(
        HoldRow(
            h.pk,
            h.drive_id,
            h.drive_set_id,
            h.reference,
            h.why,
            h.entered_by,
            h.entered_at,
            h.lift.entered_at if hasattr(h, "lift") else None,
        )  # fmt: skip
        for h in rows
    )


def _copies() -> tuple[CopyRow, ...]:
    rows = list(Copy.objects.prefetch_related("serials").order_by("pk"))
    replaced = {row.replaces_id: row.entered_at for row in rows if row.replaces_id}
    first: dict[int, int] = {}
    for row in rows:
        first[row.pk] = first.get(row.replaces_id or 0, row.pk)
    return tuple(
        CopyRow(
            c.pk,
            first[c.pk],
            c.reference,
            c.made_at,
            c.entered_at,
            c.medium,
            c.place_id,
            c.place_words,
            c.on_drive_id,
            c.verified_at,
            c.reported_bad,
            frozenset(s.drive_id for s in c.serials.all()),
            replaced.get(c.pk),
        )  # fmt: skip
        for c in rows
    )


def _wipes(drives: frozenset[int]) -> tuple[WipeRow, ...]:
    rows = Wipe.objects.filter(drive__in=drives).order_by("pk")
    return tuple(
        WipeRow(w.pk, w.job, w.drive_id, w.step, w.method, w.entered_by, w.entered_at, w.answer_at_step) for w in rows
    )


def _acceptances(drives: frozenset[int]) -> tuple[AcceptanceRow, ...]:
    rows = Acceptance.objects.filter(drive__in=drives).order_by("pk")
    return tuple(AcceptanceRow(a.drive_id, a.digest, a.entered_by, a.why, a.entered_at) for a in rows)
