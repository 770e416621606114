"""Where each thing is by present knowledge: the one SQL behind the Holding rows.

The same text serves one act's items and a full rebuild; it reads the live entries anew. Only what does nothing but
move a thing on from where it stood is added to what stood before (ONWARD), as the same rules would have it. It says
what answers/ derives for "now", loops and disputes left out: those are found when asked.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any
from uuid import UUID

import psycopg
from django.db import connection, transaction

from inventory.models import Compartment, Entry, Holding, Item, Kind, Place, Role, Verb

# An entry is void once its act was corrected by its own device, or by a kit manager who came without a pass.
VOID = f"""EXISTS (
    SELECT 1 FROM inventory_entry c
    WHERE c.corrects = {{e}}.act AND {{e}}.verb NOT IN ('{Verb.CORRECTED}', '{Verb.AMENDED}')
      AND (c.device_id = {{e}}.device_id OR (c.role = '{Role.KIT_MANAGER}' AND c.day_pass_id IS NULL)))"""

# Inside itself, inside what holds nothing, or a vehicle inside anything but a vehicle: not a placing.
PLACINGS = f"""
    SELECT {{e}}.id, {{e}}.happened_at, {{e}}.place_id, {{e}}.bay, {{e}}.grade, {{e}}_l.item_id, {{e}}_ct.id AS holds
    FROM {{first}}
    JOIN inventory_item {{e}}_i ON {{e}}_i.id = {{e}}_l.item_id
    JOIN inventory_itemtype {{e}}_t ON {{e}}_t.id = {{e}}_i.type_id
    JOIN inventory_place {{e}}_p ON {{e}}_p.id = {{e}}.place_id
    LEFT JOIN inventory_item {{e}}_c ON {{e}}_c.id = {{e}}_p.item_id
    LEFT JOIN inventory_itemtype {{e}}_k ON {{e}}_k.id = {{e}}_c.type_id
    LEFT JOIN inventory_containertype {{e}}_ct ON {{e}}_ct.item_type_id = {{e}}_c.type_id
    WHERE ({{e}}_p.item_id IS NULL OR ({{e}}_ct.id IS NOT NULL AND {{e}}_p.item_id <> {{e}}_l.item_id
           AND ({{e}}_t.kind <> '{Kind.VEHICLE}' OR {{e}}_k.kind = '{Kind.VEHICLE}')))
      AND NOT {VOID}"""

OF_THINGS = "inventory_label {e}_l JOIN inventory_entry {e} ON {e}.label_id = {e}_l.id"
BY_ID = "inventory_entry {e} JOIN inventory_label {e}_l ON {e}_l.id = {e}.label_id"


def _placings(e: str, first: str = OF_THINGS) -> str:
    return PLACINGS.format(e=e, first=first.format(e=e))


SETTLE = f"""
WITH move AS ({_placings("e")} AND {{items}}),
counting AS (
    SELECT * FROM (
        SELECT move.*, MIN(CASE WHEN grade = 'import' THEN 1 ELSE 0 END) OVER (PARTITION BY item_id) AS only_imports
        FROM move) p
    WHERE grade <> 'import' OR only_imports = 1),
ranked AS (
    SELECT counting.*,
        ROW_NUMBER() OVER newest AS nth,
        FIRST_VALUE(place_id) OVER newest AS now_in
    FROM counting WINDOW newest AS (PARTITION BY item_id ORDER BY happened_at DESC, id DESC)),
stay AS (
    SELECT * FROM (
        SELECT ranked.*, MIN(CASE WHEN place_id <> now_in THEN nth END) OVER (PARTITION BY item_id) AS left_at
        FROM ranked) r
    WHERE left_at IS NULL OR nth < left_at),
named AS (
    SELECT * FROM (
        SELECT stay.*, ROW_NUMBER() OVER (PARTITION BY item_id ORDER BY nth) AS of_bays FROM stay WHERE bay <> '') b
    WHERE of_bays = 1)
INSERT INTO inventory_holding (item_id, place_id, bay, entry_id)
SELECT i.id, s.place_id, CASE WHEN n.bay IS NULL OR EXISTS (
        SELECT 1 FROM ({_placings("o")}) o
        JOIN inventory_compartment cp ON cp.container_id = o.holds AND cp.label = o.bay AND cp.kind <> 'pocket'
        WHERE o.place_id = n.place_id AND o.bay = n.bay AND o.item_id <> n.item_id
          AND (o.happened_at, o.id) > (n.happened_at, n.id)
          AND (o.grade <> 'import' OR NOT EXISTS (
              SELECT 1 FROM ({_placings("x")}) x WHERE x.item_id = o.item_id AND x.grade <> 'import')))
    THEN '' ELSE n.bay END, s.id
FROM inventory_item i
LEFT JOIN stay s ON s.item_id = i.id AND s.nth = 1
LEFT JOIN named n ON n.item_id = i.id
WHERE {{only}}
ON CONFLICT (item_id) DO UPDATE SET place_id = excluded.place_id, bay = excluded.bay, entry_id = excluded.entry_id
"""

# New placings that only carry a thing on from where the newest one before left it, oldest first. Whatever else an entry
# does (names a bay, ends the rule for imports, comes late, is taken back already) has everything of the thing read.
ONWARD = f"""
SELECT m.item_id, m.place_id, m.id, h.place_id, h.bay
FROM ({_placings("e", BY_ID)} AND {{entries}}) m
JOIN inventory_holding h ON h.item_id = m.item_id
JOIN inventory_entry b ON b.id = h.entry_id
WHERE m.bay = '' AND m.grade <> 'import' AND b.grade <> 'import' AND (m.happened_at, m.id) > (b.happened_at, b.id)
ORDER BY m.happened_at, m.id
"""
BEGIN = "INSERT INTO inventory_holding (item_id, bay) VALUES (%s, '') ON CONFLICT DO NOTHING"
PUT = "UPDATE inventory_holding SET place_id = %s, bay = %s, entry_id = %s WHERE item_id = %s"
PUT_ON_POSTGRES = """
UPDATE inventory_holding h SET place_id = told.place_id, bay = told.bay, entry_id = told.entry_id
FROM unnest(%s::bigint[], %s::bigint[], %s::text[], %s::uuid[]) AS told (item_id, place_id, bay, entry_id)
WHERE h.item_id = told.item_id"""

_LISTED = "IN (SELECT value FROM json_each(%s))"
_GIVEN = "= ANY(%(ids)s::bigint[])"
SOME_ON_SQLITE = SETTLE.format(items=f"e_l.item_id {_LISTED}", only=f"i.id {_LISTED}")
SOME_ON_POSTGRES = SETTLE.format(items=f"e_l.item_id {_GIVEN}", only=f"i.id {_GIVEN}")
ONWARD_ON_SQLITE = ONWARD.format(entries=f"e.id {_LISTED}")
ONWARD_ON_POSTGRES = ONWARD.format(entries="e.id = ANY(%(ids)s::uuid[])")
STEP = 200
STEP_OF_REBUILD = 1000  # on PostgreSQL
NONE: Mapping[UUID, int] = {}
Held = tuple[int, str, Any]  # place, bay, entry: a row of Holding as the database keeps it


@transaction.atomic(savepoint=False)
def settle(item_ids: Iterable[int], moved: Mapping[UUID, int] = NONE) -> None:
    """Bring the Holding rows of these items up to date, and of those that new entries moved: entry to item.

    Most of what is scanned only goes on to its next place: that is written down as it is. Of all others everything is
    read anew.
    """
    anew = set(item_ids)
    onward = _onward(moved, anew)
    _settle_anew(anew.union(moved.values()) - onward.keys(), onward)
    if onward and connection.features.has_select_for_update:  # their rows are ours by now, but were not yet then
        still = _onward(moved, anew)
        _settle_anew(onward.keys() - still.keys())
        onward = {item: held for item, held in still.items() if item in onward}
    _put(sorted(onward.items()))


def _put(onward: Sequence[tuple[int, Held]]) -> None:
    if not onward:
        return
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            items, held = zip(*onward, strict=True)
            cursor.execute(PUT_ON_POSTGRES, [list(items), *map(list, zip(*held, strict=True))])
        else:
            cursor.executemany(PUT, [(*held, item) for item, held in onward])


def _onward(moved: Mapping[UUID, int], anew: Collection[int]) -> dict[int, Held]:
    """What Holding is to say of items that these entries do nothing but move onward; others are absent."""
    entries = {entry: item for entry, item in moved.items() if item not in anew}
    found: dict[int, Held] = {}
    told = Counter(entries.values())
    for item, place, entry, place_before, bay_before in _rows_of(list(entries)):
        place_before, bay_before, _ = found.get(item, (place_before, bay_before, None))
        found[item] = (place, bay_before if place == place_before else "", entry)
        told[item] -= 1
    return {item: held for item, held in found.items() if told[item] == 0}


def _settle_anew(item_ids: Iterable[int], beside: Iterable[int] = ()) -> None:
    """Recompute the Holding rows of these items, and of those whose bay one of them takes or gives back.

    First the places whose bays are named are locked, then the rows, each in id order, those `beside` too; only then
    are entries read, so that of two recorders the second sees what the first wrote.
    """
    ids = sorted(set(item_ids))
    bays = _contested(ids) if ids else set()
    if bays:
        places = Place.objects.select_for_update(no_key=True).filter(pk__in={place for place, _ in bays})
        list(places.order_by("pk").values_list("pk", flat=True))
        ids = sorted({*ids, *_neighbours(bays)})
    _lock(sorted({*ids, *beside}))
    for start in range(0, len(ids), STEP):
        _run(ids[start : start + STEP])


@transaction.atomic
def rebuild() -> None:
    """Recompute every Holding row by the same statement, some items at a time: its parts are paired by looking through
    all of each, which for 200,000 items at once took over half an hour.
    """
    ids = list(Item.objects.order_by("pk").values_list("pk", flat=True))
    step = STEP_OF_REBUILD if connection.vendor == "postgresql" else STEP
    for start in range(0, len(ids), step):
        _run(ids[start : start + step], PAIRED)


def _contested(item_ids: Sequence[int]) -> set[tuple[int, str]]:
    """Bays and slots, as (place, label), that entries of these items ever named. Pockets hold many: no contest."""
    named = (
        Entry.objects.filter(label__item__in=item_ids, place__item__isnull=False)
        .exclude(bay="")
        .values_list("place_id", "bay", "place__item__type__container")
        .order_by()
        .distinct()
    )
    rows = list(named)
    if not rows:
        return set()
    single = set(
        Compartment.objects.filter(container__in={row[2] for row in rows if row[2]})
        .exclude(kind=Compartment.CompartmentKind.POCKET)
        .values_list("container_id", "label")
    )
    return {(place, bay) for place, bay, container in rows if (container, bay) in single}


def _neighbours(bays: set[tuple[int, str]]) -> set[int]:
    """Items in there that have such a bay, or none and may get it back."""
    held = Holding.objects.filter(place__in={place for place, _ in bays}).values_list("item_id", "place_id", "bay")
    return {item for item, place, bay in held if not bay or (place, bay) in bays}


def _lock(ids: Sequence[int]) -> None:
    """Hold the rows of these items until the transaction ends; rows that are missing are made first."""
    if not ids or not connection.features.has_select_for_update:  # SQLite has one writer, and that is us by now
        return
    rows = Holding.objects.select_for_update().filter(pk__in=ids).order_by("pk").values_list("pk", flat=True)
    missing = set(ids).difference(rows)
    if missing:
        with connection.cursor() as cursor:
            cursor.executemany(BEGIN, [(pk,) for pk in sorted(missing)])
        list(rows.all())


def _run(ids: Sequence[int], settings: str = "") -> None:
    """One text whatever the items, so that the database reads and plans it once for each connection.

    `settings` are further ones of PostgreSQL, by which it plans anew.
    """
    if connection.vendor == "postgresql":
        given = {"ids": "{" + ",".join(map(str, ids)) + "}"}
        with _planned_once(settings) as cursor:
            cursor.execute(SOME_ON_POSTGRES, given, prepare=not settings)
        return
    with connection.cursor() as cursor:
        chosen = json.dumps(ids)
        cursor.execute(SOME_ON_SQLITE, [chosen, chosen])


# In the order written and by indexes alone, by a plan that is made once and does not depend on how full the tables
# were that day: looking for a better one for 27 tables takes 60 ms each time, running this one takes 1.
_PLANNING = (
    "join_collapse_limit", "from_collapse_limit", "plan_cache_mode", "enable_seqscan", "enable_hashjoin",
    "enable_mergejoin",
)  # fmt: skip
_OURS = ("1", "1", "force_generic_plan", "off", "off", "off")
PLAN_ONCE = "; ".join(f"SET LOCAL {name} = {value}" for name, value in zip(_PLANNING, _OURS, strict=True))
PLAN_AS_EVER = "; ".join(f"SET LOCAL {name} = DEFAULT" for name in _PLANNING)


# Of a thousand items at once, parts are paired by hashing: looking through all of each for each took 3 s for 200 items
# on tables that nobody had counted yet.
PAIRED = "; SET LOCAL enable_hashjoin = on; SET LOCAL plan_cache_mode = auto"


@contextmanager
def _planned_once(settings: str = "") -> Iterator[psycopg.Cursor]:
    with connection.wrap_database_errors, psycopg.Cursor(connection.connection) as cursor:
        cursor.execute(PLAN_ONCE + settings)
        yield cursor
        cursor.execute(PLAN_AS_EVER)


def _rows_of(entries: list[UUID]) -> list[tuple[Any, ...]]:
    if not entries:
        return []
    if connection.vendor == "postgresql":
        with _planned_once() as cursor:
            listed = "{" + ",".join(map(str, entries)) + "}"
            return cursor.execute(ONWARD_ON_POSTGRES, {"ids": listed}, prepare=True).fetchall()
    with connection.cursor() as cursor:
        found: list[tuple[Any, ...]] = cursor.execute(
            ONWARD_ON_SQLITE, [json.dumps([one.hex for one in entries])]
        ).fetchall()
        return found
