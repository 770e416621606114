"""Is a system complete and ready for a day: reads the book, then lets readiness_rules judge."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import NamedTuple
from uuid import UUID

from inventory.answers.blankness import blank_sets as by_the_book
from inventory.answers.faults import faults_told
from inventory.answers.owned import Owned, owned
from inventory.answers.places import Room, rooms_around
from inventory.answers.readiness_rows import Candidate, Fault, PartLine, Promise, Readiness, SystemRows
from inventory.answers.readiness_rules import judge
from inventory.answers.told import live
from inventory.answers.twins import alike_ids, case_around, containers_in, crossed_twins
from inventory.answers.values import Verdict, Whereabouts
from inventory.answers.whereabouts import whereabouts_of
from inventory.models import DriveSet, Entry, Item, Kind, System, SystemPart, Verb
from inventory.models.catalogue import type_words
from inventory.models.places import Purpose
from inventory.prepared import Asked, Prepared
from inventory.unchanged import kept

COUNTS = Prepared(
    lambda items, at: live(at).filter(label__item__in=items, verb=Verb.COUNTED, quantity__isnull=False)
    .order_by("happened_at", "id").values_list("label__item_id", "quantity"),
    items=Asked.IDS, at=Asked.MOMENT,
)  # fmt: skip
PROMISED = Prepared(
    lambda entries: Entry.objects.filter(pk__in=entries).order_by()
    .values_list("pk", "verb", "place__name", "person__name", "due_at", "note"),
    entries=Asked.UUIDS,
)  # fmt: skip


class Part(NamedTuple):
    """One line of a system's list of parts, as it is kept."""

    pk: int
    system: int
    item: int | None
    type: int | None
    maker: str | None
    type_name: str | None
    necessity: str
    quantity: int
    requirement: str
    show_stopper: bool
    left_behind_prone: bool


PARTS = Prepared(
    lambda systems: SystemPart.objects.filter(system__in=systems).values_list(
        "pk", "system_id", "item_id", "type_id", "type__maker", "type__name", "necessity", "quantity", "requirement",
        "show_stopper", "left_behind_prone",
    ),
    systems=Asked.IDS,
)  # fmt: skip
OWN = Prepared(
    lambda systems, types: Item.objects.in_stock().filter(home_system__in=systems, type__in=types).order_by()
    .values_list("pk"),
    systems=Asked.IDS, types=Asked.IDS,
)  # fmt: skip
BlankSets = Callable[[Sequence[DriveSet], datetime], Mapping[int, Verdict]]


def readiness(system: System, on: date, at: datetime, *, blank_sets: BlankSets = by_the_book) -> Readiness:
    """READY or NOT READY for the day `on`, by what is known at `at`. `blank_sets`: which sets may be recorded on."""
    return readiness_of([(system, on)], at, blank_sets=blank_sets)[system.pk, on]


def readiness_of(
    asked: Iterable[tuple[System, date]], at: datetime, *, blank_sets: BlankSets = by_the_book
) -> dict[tuple[int, date], Readiness]:
    """The verdict for each system and day, in a number of queries that does not grow with either."""
    asked = list(asked)
    if not asked:
        return {}
    rows = rows_of({system.pk: system for system, _on in asked}.values(), at, blank_sets=blank_sets)
    return {(system.pk, on): judge(rows[system.pk], on=on, at=at) for system, on in asked}


def rows_of(systems: Iterable[System], at: datetime, *, blank_sets: BlankSets = by_the_book) -> dict[int, SystemRows]:
    """All that the verdicts on these systems stand on, read at once."""
    asked = sorted(system.pk for system in systems)
    return kept(("readiness", blank_sets, *asked), at, lambda: _rows_of(asked, at, blank_sets))


def _rows_of(asked: Sequence[int], at: datetime, blank_sets: BlankSets) -> dict[int, SystemRows]:
    systems = list(System.objects.filter(pk__in=asked))
    parts = [Part._make(row) for row in PARTS(systems=asked)]
    own, twins = _candidates(asked, parts), alike_ids(systems)
    every = owned(own | twins)
    items, alike = ([item for pk, item in every.items() if pk in ids] for ids in (own, twins))
    wheres = whereabouts_of(list(every), at)
    by_type: dict[tuple[int, int | None], list[Owned]] = defaultdict(list)
    for item in items:
        by_type[item.type_id, item.system_id].append(item)
    known = _Known(
        by_id={item.pk: item for item in items},
        by_type=by_type,
        wheres=wheres,
        containers=containers_in(wheres.values()),
        rooms=rooms_around(wheres.values()),
        faults=_faults([item.pk for item in items], at),
        counts=_counts([item.pk for item in items if item.is_lot], at),
        promises=_promises(wheres[item.pk] for item in items),
    )
    sets = list(DriveSet.objects.filter(host__in=systems).order_by("name"))
    verdicts = blank_sets(sets, at) if sets else {}
    return {system.pk: _rows(system, parts, items, alike, known, sets, verdicts) for system in systems}


def _rows(
    system: System, parts: Sequence[Part], items: Sequence[Owned], alike: Sequence[Owned], known: _Known,
    sets: Sequence[DriveSet], verdicts: Mapping[int, Verdict],
) -> SystemRows:  # fmt: skip
    lines = tuple(_line(part, known) for part in parts if part.system == system.pk)
    hosted = tuple((one.name, verdicts[one.pk]) for one in sets if one.host_id == system.pk)
    frames = any(item.kind == Kind.FRAME and item.system_id == system.pk for item in items)
    crossed = crossed_twins(system, alike, known.wheres, known.containers)
    return SystemRows(system.name, lines, crossed, hosted, needs_set=bool(hosted) or frames)


@dataclass(frozen=True, slots=True)
class _Known:
    """What was read for all candidates at once; candidates by their ids, and by type and home system."""

    by_id: Mapping[int, Owned]
    by_type: Mapping[tuple[int, int | None], Sequence[Owned]]
    wheres: Mapping[int, Whereabouts]
    containers: Mapping[int, Owned]
    rooms: Mapping[int, Room]
    faults: Mapping[int, tuple[Fault, ...]]
    counts: Mapping[int, int]
    promises: Mapping[UUID, Promise]


def _candidates(systems: Collection[int], parts: Sequence[Part]) -> set[int]:
    """The exact items the parts name, and the systems' own things of the types they name."""
    own = OWN(systems=systems, types={part.type for part in parts})
    return {part.item for part in parts if part.item} | {pk for (pk,) in own}


def _line(part: Part, known: _Known) -> PartLine:
    fills = [known.by_id[part.item]] if part.item else known.by_type.get((part.type or 0, part.system), ())
    return PartLine(
        id=part.pk,
        name=fills[0].ref.words if part.item else type_words(part.maker or "", part.type_name or ""),
        necessity=part.necessity,
        wanted=part.quantity,
        requirement=part.requirement,
        show_stopper=part.show_stopper,
        left_behind_prone=part.left_behind_prone,
        by_serial=part.item is not None,
        fills=tuple(_candidate(item, known) for item in fills),
    )


def _candidate(item: Owned, known: _Known) -> Candidate:
    where = known.wheres[item.pk]
    case = case_around(where, known.containers)
    chain = [known.rooms[link.place.id] for link in where.links if link.place]
    newest = where.links[0].placing if where.links else None
    return Candidate(
        item=where.item,
        where=where,
        quantity=known.counts.get(item.pk, item.quantity),
        is_lot=item.is_lot,
        in_our_store=bool(chain) and chain[-1].is_store,
        in_quarantine=any(room.purpose == Purpose.QUARANTINE for room in chain),
        case=case.ref if case else None,
        case_system=(case.system or "") if case else "",
        home_case=item.case_number or item.case_name or "",
        promise=known.promises.get(newest.entry) if newest else None,
        faults=known.faults.get(item.pk, ()),
        inspection_due=item.inspection_due,
        inspection_asked=bool(item.inspection_days),
        labelled=item.labelled,
        hired_from="" if item.is_ours else item.owner,
        off_hire_at=item.off_hire_at,
        retired=item.retired_at is not None,
    )


def _counts(lots: Collection[int], at: datetime) -> dict[int, int]:
    """How many pieces of a lot the newest count found; a lot that nobody counted is left out."""
    return dict(COUNTS(items=lots, at=at)) if lots else {}


def _faults(items: Collection[int], at: datetime) -> dict[int, tuple[Fault, ...]]:
    """Faults reported and not closed since, by item id, oldest first."""
    return {
        item: tuple(Fault(one.id, one.at, one.by, one.note) for one in told)
        for item, told in faults_told(items, at).items()
    }


def _promises(wheres: Iterable[Whereabouts]) -> dict[UUID, Promise]:
    """Who answers for what was left or handed over, by the entry that says so."""
    ids = [
        where.links[0].placing.entry
        for where in wheres
        if where.links and where.links[0].placing and where.links[0].placing.verb in (Verb.LEFT, Verb.HANDED_OVER)
    ]
    return {
        entry: Promise(verb, place or "", person or "", due_at, note, entry)
        for entry, verb, place, person, due_at, note in PROMISED(entries=ids)
    }
