"""The dry run: what stands in the way, what is asked, and what would happen to each row."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from inventory.exchange import matching, warning
from inventory.exchange.content import Blank, content_of
from inventory.exchange.known import Known, load
from inventory.exchange.layout import Table, tables_in
from inventory.exchange.lines import Line, lines_of
from inventory.exchange.matching import Matches
from inventory.exchange.naming import Names, settle_cases, settle_names
from inventory.exchange.notices import Notice, Notices, Question
from inventory.exchange.raw import Book
from inventory.exchange.reading import read
from inventory.exchange.types import TypePlan, plan_types
from inventory.folding import fold
from inventory.models import ImportedSheet, Item, Kind


@dataclass(slots=True)
class RowPlan:
    """What would happen to one row. `changes`: field to (before, after) in words fit to show and values fit to keep."""

    line: Line
    type: TypePlan
    item: Item | None
    quantity: int
    is_lot: bool
    home: str = ""
    place: str = ""
    system: str = ""
    drive_set: str = ""
    owner: str = ""
    code: str = ""
    fields: dict[str, Any] = field(default_factory=dict)
    changes: dict[str, tuple[Any, Any]] = field(default_factory=dict)
    joins: bool = False
    places: bool = False
    blank: Blank | None = None
    content: str = ""

    @property
    def action(self) -> str:
        if self.item is None:
            return "add"
        return "change" if self.changes or self.joins or self.places else "same"

    @property
    def sentence(self) -> str:
        if self.item is None:
            return f"will be added{f' as a lot of {self.quantity}' if self.is_lot else ''}"
        if not self.changes:
            return "joins its set" if self.joins else "is placed" if self.places else "stays as it is"
        said = [
            f"{_field_words(name)} {_shown(before)} \u2192 {_shown(after)}"
            for name, (before, after) in self.changes.items()
        ]
        return "; ".join(said)


def _field_words(name: str) -> str:
    return name.removesuffix("_at").replace("_", " ")


def _shown(value: Any) -> str:
    return "(nothing)" if value in (None, "") else str(value)


@dataclass(slots=True)
class Plan:
    """The whole dry run of one sheet."""

    book: Book
    tables: list[Table]
    rows: list[RowPlan]
    types: dict[str, TypePlan]
    names: Names
    known: Known
    matches: Matches
    notices: Notices
    left_out: list[str]
    missing: list[Item] = field(default_factory=list)

    @property
    def refused(self) -> list[Notice]:
        return self.notices.refused

    @property
    def remarks(self) -> list[Notice]:
        return self.notices.remarks

    @property
    def unread(self) -> list[Notice]:
        return self.notices.unread

    @property
    def questions(self) -> list[Question]:
        return sorted(self.notices.questions.values(), key=lambda one: (not one.holds_up, not one.is_open))

    @property
    def open_questions(self) -> list[Question]:
        return [one for one in self.questions if one.is_open and one.holds_up]

    @property
    def can_commit(self) -> bool:
        return bool(self.rows) and not self.refused and not self.open_questions

    def count(self, action: str) -> int:
        return sum(row.action == action for row in self.rows)

    @property
    def new_types(self) -> list[TypePlan]:
        return [one for one in self.types.values() if one.known is None]

    @property
    def new_systems(self) -> list[str]:
        return sorted({row.system for row in self.rows if row.system and fold(row.system) not in self.known.systems})

    @property
    def new_sets(self) -> list[str]:
        return sorted(
            {row.drive_set for row in self.rows if row.drive_set and fold(row.drive_set) not in self.known.sets}
        )

    @property
    def new_owners(self) -> list[str]:
        return sorted({row.owner for row in self.rows if row.owner and fold(row.owner) not in self.known.owners})


def plan_sheet(sheet: ImportedSheet) -> Plan:
    """The dry run of a sheet with the answers given so far. Raises SheetRefused if the file cannot be read."""
    book = read(bytes(sheet.body), sheet.name)
    return plan_book(book, answers=sheet.answers, mapping=sheet.mapping, left_out=sheet.left_out)


def plan_book(
    book: Book, *, answers: Mapping[str, str] | None = None, mapping: Mapping[str, str] | None = None,
    left_out: list[str] | None = None,
) -> Plan:  # fmt: skip
    notices = Notices(answers or {})
    tables = tables_in(book, mapping or {}, set(left_out or []), notices)
    lines = [line for table in tables for line in lines_of(table, notices)]
    known = load(lines)
    matches = matching.match_named(lines, known, notices)
    lines = _with_type(lines, known, matches, notices)
    types = plan_types(lines, known, notices)
    names = settle_names(lines, known, matches.items, notices)
    settle_cases(names, lines, known, matches.items, notices)
    before = dict(matches.items)
    matching.match_alike(lines, types, names, known, matches, notices)
    if _retyped(lines, before, known, matches):
        types = plan_types(lines, known, notices)
    blanks = content_of(lines, types, matches, notices)
    rows = [_row(line, types, names, known, matches, blanks) for line in lines]
    for row in rows:
        _compare(row, names, known)
    warning.warn(rows, known, notices)
    plan = Plan(book, tables, rows, types, names, known, matches, notices, list(left_out or []))
    plan.missing = [known.items[pk] for pk in sorted(known.earlier - matches.taken) if _is_missing(known.items.get(pk))]
    return plan


def _retyped(lines: list[Line], before: Mapping[str, int | None], known: Known, matches: Matches) -> bool:
    """A row that a person called a known thing takes the type of that thing."""
    changed = False
    for line in lines:
        item = known.items.get(matches.items.get(line.ref) or 0)
        if item is not None and line.ref not in before and matching.type_key(line) != item.type.key:
            _take_type(line, item, known)
            changed = True
    return changed


def _is_missing(item: Item | None) -> bool:
    return item is not None and item.retired_at is None


def _with_type(lines: list[Line], known: Known, matches: Matches, notices: Notices) -> list[Line]:
    """Settle which type each row is of; refuse a new thing that is nothing."""
    kept = []
    for line in lines:
        item = known.items.get(matches.items.get(line.ref) or 0)
        if item is not None and _is_of_known_type(line, item, notices):
            _take_type(line, item, known)
        if not line.model:
            notices.refuse(line.spot("model"), "Nothing says what this is. Fill in the item, or leave the row out.")
            continue
        kept.append(line)
    return kept


def _is_of_known_type(line: Line, item: Item, notices: Notices) -> bool:
    """A known thing keeps its type unless a person says that the sheet knows better."""
    maker, model = fold(line.text("maker")), fold(line.text("model"))
    same_maker = maker in {"", fold(item.type.maker)}
    if not model or (same_maker and model in {fold(item.type.name), fold(str(item.type))}):
        return True
    answer = notices.ask(
        f"retype:{line.ref}",
        f"In the book {item.number or item.called} is a {item.type}; here it is a {line.called}. What is right?",
        [line.spot("model")],
        choices=[("sheet", "the sheet is right"), ("book", f"it is a {item.type}: keep it")],
    )  # fmt: skip
    return answer != "sheet"


def _take_type(line: Line, item: Item, known: Known) -> None:
    line.texts["model"], line.texts["maker"] = item.type.name, item.type.maker
    known.types.setdefault(item.type.key, item.type)
    line.kind = line.kind or item.type.kind


def _row(
    line: Line, types: Mapping[str, TypePlan], names: Names, known: Known, matches: Matches, blanks: Mapping[str, Blank]
) -> RowPlan:  # fmt: skip
    plan = types[matching.type_key(line)]
    item = known.items.get(matches.items.get(line.ref) or 0)
    lot = matching.is_lot(line, plan)
    row = RowPlan(line, plan, item, 1 if line.serial else line.quantity or 1, lot)
    row.home = matching.home_of(line, names)
    row.place = names.places.get(fold(line.text("place")), "") if line.text("place") else ""
    row.system = names.systems.get(fold(line.text("home_system")), "")
    row.drive_set = names.sets.get(fold(line.text("home_set")), "")
    row.owner = names.owners.get(fold(line.text("owner")), "") if line.text("owner") else names.house
    row.code = matches.adopts.get(line.ref, "")
    row.blank = blanks.get(line.ref)
    row.content = line.text("content") if plan.kind == Kind.DRIVE and row.blank is None else ""
    row.fields = _own_fields(line)
    return row


def _own_fields(line: Line) -> dict[str, Any]:
    """Fields of the thing itself that the row fills, as the book keeps them."""
    fields: dict[str, Any] = {**line.dates}
    for name in ("number", "registration", "note"):
        if line.text(name):
            fields[name] = line.text(name)
    if line.text("name") and line.text("name") != line.model:
        fields["name"] = line.text("name")
    if line.serial:
        fields["serial"] = line.serial
    if "cost_per_day" in line.money:
        fields["cost_per_day"] = round(line.money["cost_per_day"], 2)
    return fields


def _compare(row: RowPlan, names: Names, known: Known) -> None:
    """What the row would change of a known thing. An empty cell says nothing and changes nothing."""
    item, line = row.item, row.line
    if item is None:
        row.joins = bool(row.drive_set) and row.type.kind == Kind.DRIVE
        row.places = True
        return
    row.places = item.pk not in known.placed and bool(row.home or row.place or (names.rest and _is_homeless(row)))
    row.joins = bool(row.drive_set) and row.type.kind == Kind.DRIVE and item.pk not in known.joined
    for name, value in row.fields.items():
        before = getattr(item, name)
        if not _equal(name, before, value):
            row.changes[name] = (before, value)
    if item.type.key != row.type.key:
        row.changes["type"] = (str(item.type), row.type.called)
    _compare_homes(row, item, known)
    if line.quantity and line.quantity != item.quantity and not line.serial and not item.serial:
        row.changes["quantity"] = (item.quantity, line.quantity)


def _is_homeless(row: RowPlan) -> bool:
    return not row.line.text("place") and not row.line.text("home_case")


def _compare_homes(row: RowPlan, item: Item, known: Known) -> None:
    if row.home and row.home != f"item:{item.home_case_id}":
        row.changes["home_case"] = (item.home_case, case_words(row.home, known))
    for name, value in (("home_system", row.system), ("home_set", row.drive_set)):
        before = getattr(item, name)
        if value and fold(value) != fold(before.name if before else ""):
            row.changes[name] = (before, value)
    if row.line.text("owner") and fold(row.owner) != fold(item.owner.name):
        row.changes["owner"] = (item.owner, row.owner)


def case_words(target: str, known: Known) -> str:
    """A case's target as a person would say it."""
    kind, _, rest = target.partition(":")
    if kind == "item":
        return known.called.get(int(rest)) or str(known.items.get(int(rest), rest))
    return rest


def _equal(name: str, before: Any, value: Any) -> bool:
    if name == "off_hire_at" and before is not None:
        return bool(before.date() == value)
    if name in {"serial", "number"}:
        return fold(before or "") == fold(value)
    if name == "note":
        return value in (before or "")
    return bool(before == value)
