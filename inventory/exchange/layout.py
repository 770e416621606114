"""Where in a tab the table is: its headings, its columns, and which rows are things."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from inventory.codes import ALPHABET, LENGTH, is_whole
from inventory.exchange.columns import BY_NAME, could_mean, heading_of
from inventory.exchange.notices import Notices, Spot, row_ref
from inventory.exchange.out import unguarded
from inventory.exchange.raw import NOTHING, Book, Cell, Form, Tab, column_letter, text_cell, words_of

OWN = "own"  # the mapping's word for a column that stays the person's own
IDENTIFYING = ("model", "serial", "number", "code", "name")
_LOOK_DOWN = 40
_TOTAL = re.compile(r"^(sub ?|grand )?totals?\b|^sum\b|^\d+ items$")


@dataclass(frozen=True, slots=True)
class Column:
    index: int
    heading: str
    field: str | None
    unit: str = ""
    could_be: tuple[str, ...] = ()

    @property
    def letter(self) -> str:
        return column_letter(self.index)


@dataclass(slots=True)
class Table:
    """One tab's table. `rows` are the indexes of rows that are things; `skipped` says why others are not."""

    tab: Tab
    header: int
    columns: list[Column]
    rows: list[int] = field(default_factory=list)
    skipped: dict[int, str] = field(default_factory=dict)
    filled_down: dict[tuple[int, int], Cell] = field(default_factory=dict)

    def column_of(self, name: str) -> Column | None:
        return next((column for column in self.columns if column.field == name), None)

    def cell(self, row: int, column: Column | None) -> Cell:
        if column is None:
            return NOTHING
        return self.filled_down.get((row, column.index)) or self.tab.cell(row, column.index)

    def spot(self, row: int | None = None, column: Column | None = None) -> Spot:
        return Spot(self.tab.name, row, column.index if column else None)


def mapping_key(tab: str, column: int) -> str:
    return f"{tab}!{column_letter(column)}"


def tables_in(book: Book, mapping: Mapping[str, str], left_out: set[str], notices: Notices) -> list[Table]:
    """Every table of the book, with the person's own mapping of columns laid over the published list."""
    shown = [tab for tab in book.tabs if not tab.hidden and tab.rows]
    for tab in book.tabs:
        if tab.hidden and tab.rows:
            notices.remark(Spot(tab.name), f"The tab {tab.name} is hidden, so it was not read. Unhide it to import it.")
    headers = {tab.name: find_header(tab) for tab in shown}
    some = any(header is not None for header in headers.values())
    found = []
    for tab in shown:
        header = _asked_header(tab, headers[tab.name], some, notices)
        if header is not None:
            columns = _columns(tab, header, mapping, notices)
            if book.kind == "csv":
                _unguard(tab, header, columns)
            found.append(_table(Table(tab, header, columns), left_out, notices))
    return found


def _unguard(tab: Tab, header: int, columns: list[Column]) -> None:
    """A sheet that carries our codes is one we wrote, so the apostrophes that we put before text come off."""
    code = next((column.index for column in columns if column.field == "code"), None)
    if code is None or not any(is_ours(tab.cell(row, code).text) for row in range(header + 1, len(tab.rows))):
        return
    for number, cells in enumerate(tab.rows):
        tab.rows[number] = [text_cell(unguarded(c.text)) if c.text.startswith("'") else c for c in cells]


def find_header(tab: Tab) -> int | None:
    """The row near the top with most known headings, if it knows at least two and one names the thing."""
    best, header = 1, None
    for number, row in enumerate(tab.rows[:_LOOK_DOWN]):
        known = {name for cell in row if cell.form is Form.TEXT and (name := heading_of(cell.text)[0])}
        unsure = sum(bool(could_mean(cell.text)) for cell in row)
        if known & set(IDENTIFYING) and len(known) + unsure > best:
            best, header = len(known) + unsure, number
    return header


def _asked_header(tab: Tab, found: int | None, others: bool, notices: Notices) -> int | None:
    if found is not None:
        return found
    answer = notices.ask(
        f"header:{tab.name}", f"In the tab {tab.name} no row of headings was recognised. In which row do they stand?",
        [Spot(tab.name)], choices=[("none", "There is no table in this tab")], free="number", holds_up=not others,
    )  # fmt: skip
    row = int(answer) - 1 if answer.isdigit() else None
    return row if row is not None and row < len(tab.rows) else None


def _table(table: Table, left_out: set[str], notices: Notices) -> Table:
    tab, header = table.tab, table.header
    _fill_down(table)
    if not any(table.column_of(name) for name in IDENTIFYING):
        notices.refuse(table.spot(header), "No column says what the things are. Settle it in the list of columns.")
        return table
    for row in range(header + 1, len(tab.rows)):
        if row_ref(tab.name, row) in left_out:
            table.skipped[row] = "left out by a person"
            continue
        why = _why_not(table, row, notices)
        if why:
            table.skipped[row] = why
        else:
            table.rows.append(row)
    return table


def _columns(tab: Tab, header: int, mapping: Mapping[str, str], notices: Notices) -> list[Column]:
    columns: list[Column] = []
    taken: dict[str, Column] = {}
    for index in range(max(tab.width, len(tab.rows[header]))):
        column = _column(tab, header, index, mapping.get(mapping_key(tab.name, index), ""), notices)
        if column.field and column.field in taken:
            first = taken[column.field]
            notices.remark(
                Spot(tab.name, header, index),
                f"Columns {first.letter} and {column.letter} both read as \u201c{BY_NAME[column.field].heading}\u201d. "
                f"{first.letter} is used, {column.letter} stays your own column. Change it in the list of columns.",
            )
            column = Column(index, column.heading, None)
        if column.field:
            taken[column.field] = column
            if index in tab.hidden_columns:
                notices.remark(
                    Spot(tab.name, header, index), f"Column {column.letter} is hidden. It was read all the same."
                )
        columns.append(column)
    return columns


def _column(tab: Tab, header: int, index: int, settled: str, notices: Notices) -> Column:
    heading = tab.cell(header, index).text
    name, unit = heading_of(heading)
    if settled in BY_NAME or settled == OWN:
        return Column(index, heading, None if settled == OWN else settled, unit)
    options = could_mean(heading) if name is None else ()
    if options and any(tab.cell(row, index).text for row in range(header + 1, len(tab.rows))):
        name = _ask_meaning(tab, header, index, options, notices)
    if name == "code" and words_of(heading) == "code" and not _is_our_code_column(tab, header, index, notices):
        name = None
    return Column(index, heading, name, unit, options)


def _is_our_code_column(tab: Tab, header: int, index: int, notices: Notices) -> bool:
    """A column headed `code` is ours unless it is full of somebody else's codes, or ours has its longer name."""
    if any(words_of(cell.text) == "book code" for cell in tab.rows[header]):
        return False
    said = [text for row in range(header + 1, len(tab.rows)) if (text := tab.cell(row, index).text)]
    if not said or any(is_ours(text) for text in said):
        return True
    notices.remark(Spot(tab.name, header, index), "None of these is a code of this book, so the column stays your own.")
    return False


def is_ours(text: str) -> bool:
    """Could this be a code that this book printed?"""
    code = text.strip().upper()
    return len(code) == LENGTH and set(code) <= set(ALPHABET) and is_whole(code)


def _ask_meaning(tab: Tab, header: int, index: int, options: tuple[str, ...], notices: Notices) -> str | None:
    heading = tab.cell(header, index).text
    examples = [text for row in range(header + 1, len(tab.rows)) if (text := tab.cell(row, index).text)][:3]
    answer = notices.ask(
        f"column:{mapping_key(tab.name, index)}",
        f"The heading \u201c{heading}\u201d is used for different things (here: {', '.join(examples)}). What is meant?",
        [Spot(tab.name, header, index)],
        choices=[(name, f"{BY_NAME[name].heading}: {BY_NAME[name].meaning}") for name in options]
        + [(OWN, "something of our own; leave it as it is")],
        holds_up="home_case" in options or "code" in options or "number" in options,
    )
    return answer if answer in BY_NAME else None


def _fill_down(table: Table) -> None:
    """A cell merged over several rows speaks for each of them."""
    for first_row, first, last_row, last in table.tab.merged:
        if first == last and first_row > table.header and first_row < len(table.tab.rows):
            top = table.tab.cell(first_row, first)
            for row in range(first_row + 1, min(last_row + 1, len(table.tab.rows))):
                table.filled_down[row, first] = top


def _why_not(table: Table, row: int, notices: Notices) -> str:
    """Why a row is no thing; '' if it is one."""
    cells = table.tab.rows[row]
    filled = [index for index, cell in enumerate(cells) if cell.form is not Form.EMPTY]
    if not filled:
        return "empty"
    if [cell.text for cell in cells] == [cell.text for cell in table.tab.rows[table.header]]:
        return "the headings again"
    if marked_as_note(table, row):
        return "a note"
    first = words_of(cells[filled[0]].text)
    named = [index for name in IDENTIFYING if (column := table.column_of(name)) and (index := column.index) in filled]
    firm = [column.index for name in ("serial", "number", "code") if (column := table.column_of(name))]
    if _TOTAL.match(first) and not set(firm) & set(filled):
        return "a total"
    if not named or (len(filled) == 1 and _is_wide(table.tab, row, filled[0])):
        return "a note"
    if (
        len(filled) == 1
        and not set(firm) & set(filled)
        and sum(column.field is not None for column in table.columns) > 2
    ):
        return _ask_if_note(table, row, filled[0], notices)
    return ""


NOTE = "note"  # stands where a code would, in sheets that we gave back: this row is no thing, and need not be asked


def marked_as_note(table: Table, row: int) -> bool:
    column = table.column_of("code")
    return column is not None and words_of(table.tab.cell(row, column.index).text) == NOTE


def looks_like_a_thing(table: Table, row: int) -> bool:
    """Would a row that says one word be asked about, once its cells are merged no more and no answer is at hand?"""
    filled = [index for index, cell in enumerate(table.tab.rows[row]) if cell.form is not Form.EMPTY]
    named = {column.index for name in IDENTIFYING if (column := table.column_of(name))}
    return len(filled) == 1 and filled[0] in named


def _is_wide(tab: Tab, row: int, column: int) -> bool:
    return any(box[0] == row and box[1] == column and box[3] > column for box in tab.merged)


def _ask_if_note(table: Table, row: int, column: int, notices: Notices) -> str:
    text = table.tab.cell(row, column).text
    answer = notices.ask(
        f"note:{row_ref(table.tab.name, row)}", f"This row says only \u201c{text}\u201d. What is it?",
        [Spot(table.tab.name, row, column)],
        choices=[("note", "a heading or a note"), ("thing", "a thing, one piece")],
    )  # fmt: skip
    return "" if answer == "thing" else "a note"
