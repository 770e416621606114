"""A dry run being written, row by row. Only commit.py starts it, within its one transaction."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from datetime import datetime, time
from typing import Any

from django.conf import settings
from django.utils import timezone
from django.utils.text import slugify

from inventory import codes, ledger
from inventory.exchange.plan import Plan, RowPlan
from inventory.exchange.remembering import noted
from inventory.exchange.type_writing import plain_case, write_types
from inventory.folding import fold
from inventory.ledger import Fact, Witness
from inventory.models import (
    ContainerType,
    DriveSet,
    Grade,
    ImportedSheet,
    Item,
    ItemAlias,
    ItemType,
    Kind,
    Label,
    Organisation,
    Place,
    PlaceKind,
    System,
    SystemPart,
    Verb,
    WorkListNote,
)
from inventory.models.adding import add_all
from inventory.registering import inside_of, label_kind, new_inside

# What a tired crew leaves in the venue, and what a system never runs without (common practice).
LEFT_BEHIND = {Kind.CORD, Kind.RAILS, Kind.ADAPTER, Kind.CABLE, Kind.LICENCE_KEY, Kind.POWER_SUPPLY}
SHOW_STOPPERS = {Kind.FRAME, Kind.PANEL, Kind.LICENCE_KEY}

# Entries settled together: PostgreSQL has no statistics of rows that this transaction has just added, and its plan
# for settling thousands of them at once ran for minutes.
AT_ONCE = 100
THINGS_AT_ONCE = 500  # after so many somebody who looks or wants to stop is heard

# Told what is being written, how many of how many; what it raises undoes everything.
Heard = Callable[[str, int, int], None]


class CommitRefused(ValueError):
    """The sheet cannot go in as it is. Carries a sentence to show."""


def nobody(step: str, done: int, of: int) -> None:
    """Heard by nobody: a short sheet is in before anyone could look."""


class Writer:
    """One import being written; `made` maps the plan's targets to rows of the book."""

    def __init__(
        self, plan: Plan, sheet: ImportedSheet, by: Witness, at: datetime, heard: Heard,
        drawn: Iterator[str] | None = None,
    ) -> None:  # fmt: skip
        self.plan, self.sheet, self.by, self.at, self.heard = plan, sheet, by, at, heard
        self.owners = dict(plan.known.owners)
        self.systems = dict(plan.known.systems)
        self.sets = dict(plan.known.sets)
        self.places: dict[str, Place] = {}
        self.things: dict[str, Item] = {}
        self.labels: dict[int, Label] = {}
        self.types: dict[str, ItemType] = {}
        self.codes = drawn or codes.drawn(many=plan.count("add") > codes.FEW)

    def write(self) -> dict[str, Any]:
        self._organisations()
        self._systems()
        self._sets()
        self.types = write_types(self.plan.types.values())
        self._made_cases()
        self._items()
        self._changes()
        self._facts()
        self._parts()
        self._notes()
        return self._outcome()

    # Names

    def _organisations(self) -> None:
        for name in self.plan.new_owners:
            house = fold(name) == fold(self.plan.names.house)
            self.owners[fold(name)] = Organisation.objects.create(name=name, is_ours=house)

    def _systems(self) -> None:
        for name in self.plan.new_systems:
            self.systems[fold(name)] = System.objects.create(name=name, slug=_free_slug(System, name))
        by_system: dict[str, list[RowPlan]] = {}
        for row in self.plan.rows:
            by_system.setdefault(fold(row.system), []).append(row)
        for key, system in self.systems.items():
            self._band(system, by_system.get(key, []))

    def _band(self, system: System, rows: list[RowPlan]) -> None:
        """Fill in the tape colour and the letters of the case numbers where nobody said them yet."""
        colour = _most(row.line.text("colour").upper() for row in rows)
        prefix = _most(_letters(row.line.text("number")) for row in rows if row.type.kind == Kind.CASE)
        if (colour and not system.colour) or (prefix and not system.prefix):
            system.colour, system.prefix = system.colour or colour, system.prefix or prefix[:6]
            system.save(update_fields=["colour", "prefix"])

    def _sets(self) -> None:
        for name in self.plan.new_sets:
            rows = [row for row in self.plan.rows if fold(row.drive_set) == fold(name)]
            host = self.systems.get(fold(_most(row.system for row in rows)))
            bays = " ".join(sorted({row.line.text("bay") for row in rows} - {""}, key=_natural))[:120]
            self.sets[fold(name)] = DriveSet.objects.create(
                name=name, slug=_free_slug(DriveSet, name), host=host, bays=bays
            )

    # Things

    def _made_cases(self) -> None:
        wanted = {row.home for row in self.plan.rows if row.home.startswith("make:")}
        if not wanted:
            return
        case = plain_case()
        owner = self.owners[fold(self.plan.names.house)] if self.plan.names.house else self._any_owner()
        for target in sorted(wanted):
            self.things[target] = Item(type=case, number=target.removeprefix("make:"), owner=owner, added_at=self.at)
        self._create(list(self.things.values()))

    def _any_owner(self) -> Organisation:
        return self.owners[fold(self.plan.rows[0].owner)]

    def _items(self) -> None:
        """New things, homes before what lives in them."""
        waiting = [row for row in self.plan.rows if row.item is None]
        new = len(waiting)
        for row in self.plan.rows:
            if row.item is not None:
                self.things[f"item:{row.item.pk}"] = self.things[f"row:{row.line.ref}"] = row.item
        while waiting:
            ready = [row for row in waiting if not row.home.startswith("row:") or row.home in self.things]
            if not ready:
                raise CommitRefused("Some things would live inside each other. Correct their home cases.")
            for start in range(0, len(ready), THINGS_AT_ONCE):
                self.heard("things", new - len(waiting) + start, new)
                self._write_things(ready[start : start + THINGS_AT_ONCE])
            done = {row.line.ref for row in ready}
            waiting = [row for row in waiting if row.line.ref not in done]

    def _write_things(self, rows: list[RowPlan]) -> None:
        items = [self._item(row) for row in rows]
        self._create(items, {row.code: item for row, item in zip(rows, items, strict=True) if row.code})
        self.things.update({f"row:{row.line.ref}": item for row, item in zip(rows, items, strict=True)})

    def _item(self, row: RowPlan) -> Item:
        item = Item(
            type=self.types[row.type.key], quantity=row.quantity, owner=self.owners[fold(row.owner)], added_at=self.at,
            home_system=self.systems.get(fold(row.system)), home_set=self.sets.get(fold(row.drive_set)),
            home_case=self._thing(row.home), serial_unreadable_since=self.at if row.line.serial_worn else None,
        )  # fmt: skip
        for name, value in row.fields.items():
            setattr(item, name, _kept(name, value))
        item.refresh_keys()
        return item

    def _create(self, items: list[Item], adopted: Mapping[str, Item] | None = None) -> None:
        for item in items:
            item.refresh_keys()
        add_all(items)
        self._label(items, adopted or {})
        rooms = set(
            ContainerType.objects.filter(item_type__in={x.type_id for x in items}).values_list("item_type", flat=True)
        )
        holders = [item for item in items if item.type_id in rooms]
        for place in Place.objects.bulk_create([new_inside(item) for item in holders]):
            self.places[f"inside:{place.item_id}"] = place

    def _label(self, items: list[Item], adopted: Mapping[str, Item]) -> None:
        """A code for each: the blank one its row names, else a new one."""
        for label in Label.objects.filter(code__in=adopted):
            label.item, label.kind, label.bound_at = adopted[label.code], label_kind(adopted[label.code].type), self.at
            label.save(update_fields=["item", "kind", "bound_at"])
            self.labels[label.item.pk] = label
        for kind in sorted({label_kind(item.type) for item in items}):
            fresh = [item for item in items if item.pk not in self.labels and label_kind(item.type) == kind]
            issued = codes.issue(fresh, at=self.at, kind=kind, drawn=self.codes)
            self.labels.update({item.pk: label for item, label in zip(fresh, issued, strict=True)})

    def _thing(self, target: str) -> Item | None:
        if target.startswith("item:") and target not in self.things:
            self.things[target] = Item.objects.get(pk=int(target.removeprefix("item:")))
        return self.things[target] if target else None

    # What changes, and what the ledger learns

    def _changes(self) -> None:
        changed = [(row, row.item) for row in self.plan.rows if row.item is not None and row.changes]
        for number, (row, item) in enumerate(changed):
            if number % AT_ONCE == 0:
                self.heard("changes", number, len(changed))
            self._change(row, item)

    def _change(self, row: RowPlan, item: Item) -> None:
        new: dict[str, Any] = {name: self._new_value(row, name, after) for name, (_, after) in row.changes.items()}
        if "number" in new and item.number:
            ItemAlias.objects.get_or_create(number=item.number, defaults={"item": item, "since": self.at})
        if "note" in new:
            new["note"] = "\n".join(filter(None, [item.note, new["note"]]))
        ledger.amend(item, self._from(row), by=self.by, at=self.at, **new)

    def _new_value(self, row: RowPlan, name: str, after: Any) -> Any:
        relations: dict[str, Callable[[], Any]] = {
            "home_case": lambda: self._thing(row.home),
            "home_system": lambda: self.systems[fold(row.system)],
            "home_set": lambda: self.sets[fold(row.drive_set)],
            "owner": lambda: self.owners[fold(row.owner)],
            "type": lambda: self.types[row.type.key],
        }
        return relations[name]() if name in relations else _kept(name, after)

    def _from(self, row: RowPlan) -> str:
        return f"{self.sheet.name}, row {row.line.row + 1}"

    def _facts(self) -> None:
        facts = [fact for row in self.plan.rows for fact in self._facts_of(row)]
        facts += [fact for target in self.things if target.startswith("make:") for fact in self._stand(target)]
        act = ledger.new_id(self.at)
        for start in range(0, len(facts), AT_ONCE):
            self.heard("entries", start, len(facts))
            ledger.record(facts[start : start + AT_ONCE], by=self.by, at=self.at, act=act)

    def _facts_of(self, row: RowPlan) -> list[Fact]:
        item = self.things[f"row:{row.line.ref}"]
        thing = self.labels.get(item.pk) or item
        common: dict[str, Any] = {"thing": thing, "grade": Grade.IMPORT}
        facts = []
        if row.places:
            facts += self._placing(row, common)
        if row.joins:
            bay = row.line.text("bay")
            facts.append(
                Fact(Verb.JOINED, drive_set=self.sets[fold(row.drive_set)], bay=bay, note=self._from(row), **common)
            )
        if row.blank:
            note = f"{row.blank.how} (said by {row.blank.who}; {self._from(row)})"
            facts.append(Fact(Verb.DECLARED_BLANK, value=row.blank.how[:200], note=note, **common))
        elif row.content and row.item is None:
            facts.append(Fact(Verb.CONTENT_GIVEN, note=row.content, value="as a sheet said", **common))
        return facts

    def _placing(self, row: RowPlan, common: dict[str, Any]) -> list[Fact]:
        note = self._from(row)
        if row.place:
            return [Fact(Verb.PLACED, place=self._place(row.place), note=note, **common)]
        home = self._thing(row.home)
        if home is not None:
            slot = row.line.text("slot")
            return [Fact(Verb.PACKED, place=self._inside(home), bay=slot, note=note, **common)]
        rest = self.plan.names.rest
        return [Fact(Verb.PLACED, place=self._place(rest), note=note, **common)] if rest else []

    def _inside(self, home: Item) -> Place:
        key = f"inside:{home.pk}"
        if key not in self.places:
            self.places[key] = inside_of(home)
        return self.places[key]

    def _stand(self, target: str) -> list[Fact]:
        if not self.plan.names.rest:
            return []
        label = self.labels[self.things[target].pk]
        place = self._place(self.plan.names.rest)
        return [Fact(Verb.PLACED, label, place=place, grade=Grade.IMPORT, note=self.sheet.name)]

    def _place(self, target: str) -> Place:
        """The place a target names; a new store or venue is made once."""
        if target not in self.places:
            kind, _, name = target.partition(":")
            self.places[target] = (
                Place.objects.get(pk=int(name)) if kind == "place" else _new_place(PlaceKind(kind), name)
            )
        return self.places[target]

    # What stays to be done

    def _parts(self) -> None:
        """What makes the systems whole: told-apart things by themselves, others as so many of their type."""
        alike: dict[tuple[int, int, str], list[RowPlan]] = {}
        for row in self.plan.rows:
            needed, system = row.line.text("necessity"), self.systems.get(fold(row.system))
            if not needed or system is None:
                continue
            item = self.things[f"row:{row.line.ref}"]
            if item.serial or item.number or row.is_lot:
                self._part(row, system, item=item, quantity=row.quantity)
            else:
                alike.setdefault((system.pk, item.type_id, needed), []).append(row)
        for rows in alike.values():
            system = self.systems[fold(rows[0].system)]
            self._part(rows[0], system, type=self.types[rows[0].type.key], quantity=len(rows))

    def _part(self, row: RowPlan, system: System, *, quantity: int, **which: Any) -> None:
        kind, needed = row.type.kind, row.line.text("necessity")
        known = SystemPart.objects.filter(system=system, **which)
        if (known if "item" in which else known.filter(necessity=needed)).exists():
            return
        SystemPart.objects.create(
            system=system, necessity=needed, quantity=quantity, position=row.line.row % 32_000,
            left_behind_prone=kind in LEFT_BEHIND, show_stopper=kind in SHOW_STOPPERS and needed == "required", **which,
        )  # fmt: skip

    def _notes(self) -> None:
        tables = {table.tab.name: table for table in self.plan.tables}
        notes = []
        for notice in self.plan.unread:
            item = self.things.get(f"row:{notice.spot.ref}")
            if item is not None and notice.spot.column is not None and notice.spot.row is not None:
                column = tables[notice.spot.tab].columns[notice.spot.column]
                text = tables[notice.spot.tab].cell(notice.spot.row, column).text
                notes.append(WorkListNote(item=item, sheet=self.sheet, column=column.heading[:120], text=text))
        WorkListNote.objects.bulk_create(notes)

    def _outcome(self) -> dict[str, Any]:
        plan = self.plan
        return {
            "rows": {row.line.ref: self.things[f"row:{row.line.ref}"].pk for row in plan.rows},
            "added": plan.count("add"), "changed": plan.count("change"), "same": plan.count("same"),
            "left_out": plan.left_out, "types": len(plan.new_types), "systems": plan.new_systems,
            "sets": plan.new_sets, "owners": plan.new_owners, "missing": [item.pk for item in plan.missing],
            **noted(plan),
        }  # fmt: skip


def _new_place(kind: PlaceKind, name: str) -> Place:
    ours = kind == PlaceKind.STORE
    zone = settings.TIME_ZONE
    return Place.objects.get_or_create(name=name, kind=kind, defaults={"is_ours": ours, "time_zone": zone})[0]


def _kept(name: str, value: Any) -> Any:
    if name == "off_hire_at":
        return timezone.make_aware(datetime.combine(value, time(23, 59)))
    return value


def _free_slug(model: Any, name: str) -> str:
    base = slugify(name)[:50] or "unnamed"
    taken = set(model.objects.filter(slug__startswith=base).values_list("slug", flat=True))
    return base if base not in taken else next(s for n in range(2, 10_000) if (s := f"{base}-{n}") not in taken)


def _most(words: Any) -> str:
    found = Counter(word for word in words if word)
    return found.most_common(1)[0][0] if found else ""


def _letters(number: str) -> str:
    found = re.match(r"[A-Z]+(?=[- ]?\d)", number.upper())
    return found[0] if found else ""


def _natural(bay: str) -> tuple[int, str]:
    return (int(bay), "") if bay.isdigit() else (0, bay)
