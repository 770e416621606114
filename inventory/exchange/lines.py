"""Rows to lines: each cell read for what its column means, before anything is looked up in the book."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any

from inventory.exchange.cells import label_form, labels_in_order, yes_or_no
from inventory.exchange.columns import BY_NAME, FIELDS, Reads
from inventory.exchange.identity import count_of, serial_of
from inventory.exchange.kinds import is_lot_word, kind_in, kind_of
from inventory.exchange.layout import Column, Table
from inventory.exchange.measures import DayColumn, MeasureColumn, Measured
from inventory.exchange.notices import Notices, Spot, row_ref
from inventory.exchange.raw import Form, words_of
from inventory.models import Kind
from inventory.models.things import called_by

_LONGEST = {
    "maker": 120, "model": 120, "name": 120, "number": 20, "home_case": 20, "slot": 20, "home_system": 60,
    "home_set": 60, "bay": 20, "owner": 120, "place": 120, "connector": 30, "battery_chemistry": 20, "currency": 3,
    "country_of_origin": 2, "hs_hint": 10, "registration": 80, "colour": 20, "blank_by": 120, "blank_how": 200,
    "packaging_for": 240,
}  # fmt: skip
_NECESSITY = {
    "required": ("required", "must", "yes", "needed", "essential", "must have", "x", "y"),
    "recommended": ("recommended", "nice to have", "optional", "should"),
    "spare": ("spare", "spares", "backup"),
}
_EMPTY_WORDS = {"n a", "na", "none", "nil"}
_MEASURES = (Reads.MASS, Reads.LENGTH, Reads.UNITS, Reads.NUMBER, Reads.MONEY)
_SIZES = {"size": "", "inner_size": "inner_"}


@dataclass(slots=True)
class Line:
    """One row that is a thing. Texts are as written; `facts` belong to its type, `dates` and `money` to itself."""

    tab: str
    row: int
    columns: dict[str, int]
    texts: dict[str, str] = field(default_factory=dict)
    serial: str = ""
    serial_worn: bool = False
    quantity: int | None = None
    kind: str = ""
    says_lot: bool = False
    facts: dict[str, Any] = field(default_factory=dict)
    dates: dict[str, date] = field(default_factory=dict)
    money: dict[str, Decimal] = field(default_factory=dict)

    def text(self, name: str) -> str:
        return self.texts.get(name, "")

    @property
    def ref(self) -> str:
        return row_ref(self.tab, self.row)

    @property
    def model(self) -> str:
        """What its type is called; a thing that only has a kind is called by its kind."""
        return self.text("model") or self.text("name") or (Kind(self.kind).label if self.kind else "")

    @property
    def called(self) -> str:
        """What to call it in a sentence."""
        words = self.text("number") or " ".join(filter(None, [self.text("maker"), self.model]))
        return called_by(words, self.serial)

    def spot(self, name: str) -> Spot:
        return Spot(self.tab, self.row, self.columns.get(name))


def lines_of(table: Table, notices: Notices) -> list[Line]:
    """Read every row of a table that is a thing."""
    reader = _Reader(table, notices)
    lines = [reader.line(row) for row in table.rows]
    reader.ask_empty_quantities()
    return lines


class _Reader:
    def __init__(self, table: Table, notices: Notices) -> None:
        self.table, self.notices = table, notices
        self.columns: dict[str, Column] = {c.field: c for c in table.columns if c.field}
        self.measures = {
            name: MeasureColumn(table, c, notices) for name, c in self.columns.items() if _is_measure(name)
        }
        self.days = {
            name: DayColumn(table, c, notices) for name, c in self.columns.items() if BY_NAME[name].reads is Reads.DATE
        }
        self.money_unit = self.columns["replacement_value"].unit if "replacement_value" in self.columns else ""
        self.uncounted: list[Line] = []
        if "quantity" not in self.columns:
            notices.remark(table.spot(table.header), "There is no quantity column, so each row is read as one piece.")

    def line(self, row: int) -> Line:
        line = Line(self.table.tab.name, row, {name: column.index for name, column in self.columns.items()})
        self._texts(line)
        self._serial(line)
        self._kind(line)
        self._quantity(line)
        self._facts(line)
        line.dates = {name: day for name, column in self.days.items() if (day := column.read(row))}
        return line

    def _texts(self, line: Line) -> None:
        for name, column in self.columns.items():
            cell = self.table.cell(line.row, column)
            if BY_NAME[name].reads is not Reads.TEXT or cell.form is Form.EMPTY:
                continue
            text = " ".join(cell.text.split()) if name not in {"note", "content"} else cell.text
            if cell.form is Form.ERROR:
                self._refuse(line, name, f"The cell holds an error ({text}). Correct it or clear it.")
            elif len(text) > _LONGEST.get(name, 4000):
                self._refuse(line, name, f"At most {_LONGEST[name]} characters fit here. Put the rest into the notes.")
                line.texts[name] = text[: _LONGEST[name]]
            elif words_of(text) not in _EMPTY_WORDS and text.strip("-\u2013\u2014. "):
                line.texts[name] = text
        for name in ("bay", "slot"):
            if name in line.texts:
                line.texts[name] = label_form(line.texts[name].removeprefix("bay ").removeprefix("Bay ").strip())
        self._needed(line)

    def _needed(self, line: Line) -> None:
        text = words_of(line.text("necessity"))
        if not text:
            return
        line.texts["necessity"] = next((word for word, forms in _NECESSITY.items() if text in forms), "")
        if not line.texts["necessity"] and text not in {"no", "n", "not needed"}:
            self._remark(line, "necessity", "Read as: required, recommended or spare. This says none of them.")

    def _serial(self, line: Line) -> None:
        column = self.columns.get("serial")
        cell = self.table.cell(line.row, column)
        if column is None or cell.form is Form.EMPTY:
            return
        serial = serial_of(cell)
        if serial.state == "refused":
            self._refuse(line, "serial", serial.sentence)
        elif serial.state == "asked":
            self._ask_serial(line, serial.sentence)
        line.serial = serial.text if serial.state == "known" else line.serial
        line.serial_worn |= serial.state == "worn"

    def _ask_serial(self, line: Line, sentence: str) -> None:
        answer = self.notices.ask(
            f"serial:{line.ref}", sentence, [line.spot("serial")],
            choices=[("none", "It has no serial"), ("worn", "It can no longer be read")], free="text",
        )  # fmt: skip
        line.serial_worn = answer == "worn"
        line.serial = "" if answer in {"none", "worn"} else answer

    def _kind(self, line: Line) -> None:
        text = ""
        if "kind" in self.columns:
            text = self.table.cell(line.row, self.columns["kind"]).text
        line.says_lot = is_lot_word(text)
        line.kind = kind_of(text) or ""
        if text and not line.kind and not line.says_lot:
            self._remark(
                line, "kind", f"\u201c{text}\u201d is no kind on the list; the words of the item decide instead."
            )
        line.kind = line.kind or kind_in(line.model) or ""
        if line.says_lot and line.kind in {Kind.CASE, Kind.VEHICLE}:
            line.kind = ""

    def _quantity(self, line: Line) -> None:
        if "quantity" not in self.columns:
            return
        cell = self.table.cell(line.row, self.columns["quantity"])
        if cell.form is Form.EMPTY:
            if not (line.serial or line.text("number") or line.text("code")):
                self.uncounted.append(line)
            return
        count = count_of(cell)
        if count.remark:
            self._remark(line, "quantity", count.remark)
        line.quantity = count.number or self._ask_quantity(line, cell.text)
        if line.serial and (line.quantity or 1) > 1:
            self._ask_serial_or_lot(line)

    def ask_empty_quantities(self) -> None:
        """Empty quantities of things without a serial or number: one question for all, then one for each if wanted."""
        if not self.uncounted:
            return
        answer = self.notices.ask(
            f"no-quantity:{self.table.tab.name}", "Things without a serial have no quantity here. How many are they?",
            [line.spot("quantity") for line in self.uncounted],
            choices=[("one", "one piece in each of these rows"), ("each", "ask me row by row")],
        )  # fmt: skip
        for line in self.uncounted:
            line.quantity = 1 if answer == "one" else self._ask_quantity(line, "") if answer == "each" else None

    def _ask_quantity(self, line: Line, text: str) -> int | None:
        said = f"The quantity says \u201c{text}\u201d" if text else "The quantity is empty"
        answer = self.notices.ask(
            f"quantity:{line.ref}", f"{said} ({line.called}). How many pieces?", [line.spot("quantity")], free="number"
        )
        return int(answer) if answer else None

    def _ask_serial_or_lot(self, line: Line) -> None:
        answer = self.notices.ask(
            f"one-serial:{line.ref}", f"{line.called}: one serial, but {line.quantity} pieces. What is right?",
            [line.spot("serial"), line.spot("quantity")],
            choices=[("one", "one piece with this serial"), ("lot", "several pieces; the serial is only noted")],
        )  # fmt: skip
        if answer == "one":
            line.quantity = 1
        elif answer == "lot":
            line.texts["note"] = "; ".join(filter(None, [line.text("note"), f"serial in the sheet: {line.serial}"]))
            line.serial = ""

    def _facts(self, line: Line) -> None:
        for name, measure in self.measures.items():
            if name in _SIZES:
                sides = measure.read_size(line.row)
                line.facts.update({f"{_SIZES[name]}{side}": one for side, one in sides.items()})
            elif (one := measure.read(line.row)) is not None:
                self._keep_measure(line, name, one)
        for name, column in self.columns.items():
            if BY_NAME[name].reads is Reads.YES_NO:
                self._yes_no(line, name, column)
        for name in ("connector", "battery_chemistry", "hs_hint", "currency", "country_of_origin"):
            if line.text(name):
                line.facts[name] = _upper(name, line.text(name))
        if self.money_unit and "replacement_value" in line.facts and "currency" not in line.facts:
            line.facts["currency"] = self.money_unit
        self._compartments(line)

    def _keep_measure(self, line: Line, name: str, one: Measured) -> None:
        if BY_NAME[name].of_type:
            line.facts[name] = one
            unit = one.words.rpartition(" ")[2]
            if name == "replacement_value" and len(unit) == 3 and unit.isalpha():
                line.facts["currency"] = unit
        else:
            line.money[name] = one.value

    def _yes_no(self, line: Line, name: str, column: Column) -> None:
        cell = self.table.cell(line.row, column)
        if cell.form is Form.EMPTY:
            return
        said = yes_or_no(cell)
        if said is None:
            self.notices.unknown(line.spot(name), f"\u201c{cell.text}\u201d is neither yes nor no.")
        else:
            line.facts[name] = said

    def _compartments(self, line: Line) -> None:
        for name in ("slots", "bays", "pockets"):
            if not line.text(name):
                continue
            try:
                line.facts[name] = tuple(labels_in_order(line.text(name)))
            except ValueError:
                self.notices.unknown(
                    line.spot(name), f"\u201c{line.text(name)}\u201d is not labels in order, such as A-F."
                )

    def _refuse(self, line: Line, name: str, sentence: str) -> None:
        self.notices.refuse(line.spot(name), sentence)

    def _remark(self, line: Line, name: str, sentence: str) -> None:
        self.notices.remark(line.spot(name), sentence)


def _is_measure(name: str) -> bool:
    return BY_NAME[name].reads in _MEASURES or name in _SIZES


def _upper(name: str, text: str) -> str:
    return text.upper() if name in {"currency", "country_of_origin"} else text


def by_field(lines: list[Line], key: Callable[[Line], str]) -> dict[str, list[Line]]:
    """Lines grouped by a text of theirs; lines without it are left out."""
    groups: dict[str, list[Line]] = {}
    for line in lines:
        if key(line):
            groups.setdefault(key(line), []).append(line)
    return groups


OF_TYPE = tuple(field.name for field in FIELDS if field.of_type)
