"""Files as they come: encodings, separators, workbooks, and files made to do harm."""

from __future__ import annotations

import io
import zipfile

import pytest
from openpyxl import Workbook

from inventory.exchange import limits
from inventory.exchange.limits import SheetRefused
from inventory.exchange.notices import Spot, runs
from inventory.exchange.raw import Form, clean
from inventory.exchange.reading import read

ROWS = "item;serial\nPane 24;0071\nGr\u00f6\u00dfe \u201cM\u201d;0072\n"


def texts(body: bytes, name: str = "gear.csv") -> list[list[str]]:
    return [[cell.text for cell in row] for row in read(body, name).tabs[0].rows]


def workbook(rows: list[list[object]], **sheet: object) -> Workbook:
    book = Workbook()
    for row in rows:
        book.active.append(row)
    for name, value in sheet.items():
        setattr(book.active, name, value)
    return book


def saved(book: Workbook) -> bytes:
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def repacked(body: bytes, **parts: bytes) -> bytes:
    """The same package with some parts replaced or added; `__` in a name stands for `/`."""
    changed = {name.replace("__", "/").replace("_dot_", "."): data for name, data in parts.items()}
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(body)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for part in old.infolist():
            if part.filename not in changed:
                new.writestr(part, old.read(part))
        for name, data in changed.items():
            new.writestr(name, data)
    return out.getvalue()


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
def test_every_usual_encoding_is_read(encoding):
    assert texts(ROWS.encode(encoding))[2][0] == "Gr\u00f6\u00dfe \u201cM\u201d"


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_the_separator_is_found(separator):
    book = read(ROWS.replace(";", separator).encode(), "gear.csv")
    assert book.separator == separator
    assert [cell.text for cell in book.tabs[0].rows[1]] == ["Pane 24", "0071"]


def test_a_semicolon_sheet_with_decimal_commas_is_not_split_at_them():
    assert texts(b"item;serial;weight\nPane;1,5;2,5\n")[1] == ["Pane", "1,5", "2,5"]


def test_a_stated_separator_is_an_instruction_and_no_row():
    assert texts(b"sep=;\nitem;serial\nA;1\n")[0] == ["item", "serial"]


def test_invisible_characters_and_nul_are_dropped():
    assert clean("\ufeff71B\x0004K\u200b\u00a0") == "71B04K"


def test_a_line_break_inside_quotes_does_not_shift_the_rows():
    rows = texts(b'item,serial\n"a\nb",1\nc,2\n')
    assert rows[2] == ["c", "2"]


def test_cells_of_a_workbook_keep_their_form():
    book = workbook([["item", "serial"], ["Pane", 71], ["Pane", "0071"], ["Pane", "=1+1"], ["Pane", True]])
    forms = [row[1].form for row in read(saved(book), "gear.xlsx").tabs[0].rows]
    assert forms == [Form.TEXT, Form.NUMBER, Form.TEXT, Form.FORMULA, Form.FLAG]


def test_a_formula_is_never_worked_out():
    book = workbook([["item", "quantity"], ["Pane", "=2+2"]])
    assert read(saved(book), "gear.xlsx").tabs[0].rows[1][1].text == ""


def test_merged_hidden_and_several_tabs_are_noticed():
    book = workbook([["item", "serial"], ["Pane", "1"], [None, "2"]])
    book.active.merge_cells("A2:A3")
    book.active.column_dimensions["B"].hidden = True
    book.create_sheet("Lists").sheet_state = "hidden"
    first, second = read(saved(book), "gear.xlsx").tabs
    assert first.merged == ((1, 0, 2, 0),)
    assert first.hidden_columns == {1}
    assert second.hidden


def test_a_stated_dimension_is_not_believed():
    body = saved(workbook([["item", "serial"], ["Pane", "1"]]))
    sheet = zipfile.ZipFile(io.BytesIO(body)).read("xl/worksheets/sheet1.xml")
    assert b'ref="A1:B2"' in sheet
    lying = repacked(body, xl__worksheets__sheet1_dot_xml=sheet.replace(b'ref="A1:B2"', b'ref="A1:XFD1048576"'))
    assert len(read(lying, "gear.xlsx").tabs[0].rows) == 2
    short = repacked(body, xl__worksheets__sheet1_dot_xml=sheet.replace(b'ref="A1:B2"', b'ref="A1:A1"'))
    assert [cell.text for cell in read(short, "gear.xlsx").tabs[0].rows[1]] == ["Pane", "1"]


def test_formatting_far_below_the_table_costs_nothing():
    book = workbook([["item", "serial"], ["Pane", "1"]])
    book.active["C200000"].number_format = "0.00"
    assert len(read(saved(book), "gear.xlsx").tabs[0].rows) == 2


def refusal(body: bytes) -> str:
    with pytest.raises(SheetRefused) as refused:
        read(body, "gear")
    return str(refused.value)


def plain() -> bytes:
    return saved(workbook([["item", "serial"], ["Pane", "1"]]))


DTD = b'<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b "boom">]><a>&b;</a>'
FAR_ROW = b'<worksheet><sheetData><row r="9999999"><c r="A9999999"><v>1</v></c></row></sheetData></worksheet>'
FAR_CELL = b'<worksheet><sheetData><row r="1"><c r="XFD1"><v>1</v></c></row></sheetData></worksheet>'
BACK = b'<worksheet><sheetData><row r="2"><c r="A2"><v>1</v></c></row><row r="1"/></sheetData></worksheet>'


@pytest.mark.parametrize(
    ("body", "says"),
    [
        pytest.param(lambda: b"", "empty", id="empty"),
        pytest.param(lambda: b" \n\n", "empty", id="blank"),
        pytest.param(lambda: b"\xd0\xcf\x11\xe0rest", "old .xls", id="old or locked"),
        pytest.param(lambda: b"%PDF-1.7", "PDF", id="pdf"),
        pytest.param(lambda: b"PK\x03\x04 not a zip", "cannot be read", id="broken zip"),
        pytest.param(lambda: plain()[:-200], "cannot be read", id="cut short"),
        pytest.param(lambda: b"item,serial\n\x81\x8d\xff,1", "encoding", id="no known encoding"),
        pytest.param(lambda: repacked(plain(), xl__workbook_dot_xml=DTD), "entities", id="entity in the workbook"),
        pytest.param(lambda: repacked(plain(), xl__worksheets__sheet1_dot_xml=DTD), "entities", id="entity in a sheet"),
        pytest.param(lambda: repacked(plain(), docProps__odd_dot_xml=DTD), "entities", id="entity in any part"),
        pytest.param(
            lambda: repacked(plain(), xl__worksheets__sheet1_dot_xml=FAR_ROW), "out of order", id="row beyond all"
        ),
        pytest.param(
            lambda: repacked(plain(), xl__worksheets__sheet1_dot_xml=BACK), "out of order", id="rows backwards"
        ),
        pytest.param(
            lambda: repacked(plain(), xl__worksheets__sheet1_dot_xml=FAR_CELL), "200 columns", id="cell far right"
        ),
        pytest.param(
            lambda: repacked(plain(), xl__worksheets__sheet1_dot_xml=b"<a>"), "cannot be read", id="broken xml"
        ),
        pytest.param(lambda: b"item,serial\n" + b"a," * 300, "200 columns", id="too many columns"),
        pytest.param(lambda: b'item,serial\n"never closed,' + b"x" * 5000, "never closed", id="open quote"),
        pytest.param(lambda: saved(workbook([["item"], ["x" * 5000]])), "4,000", id="long cell"),
    ],
)
def test_what_cannot_be_read_is_refused_with_a_sentence(body, says):
    assert says in refusal(body())


def test_an_opendocument_sheet_and_a_plain_zip_say_what_they_are():
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as package:
        package.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        package.writestr("content.xml", "<a/>")
    assert "OpenDocument" in refusal(out.getvalue())
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as package:
        package.writestr("gear.csv", "item,serial")
    assert "zip file" in refusal(out.getvalue())


def test_a_file_that_unpacks_to_too_much_is_refused_before_it_is_unpacked():
    bomb = repacked(plain(), xl__media__image1_dot_png=b"\0" * (limits.MAX_UNPACKED + 1))
    assert len(bomb) < limits.MIB
    assert "Unpacked" in refusal(bomb)


def test_too_many_bytes_parts_tabs_and_rows_are_refused(monkeypatch):
    assert "MB is the most" in refusal(b"a" * (limits.MAX_BYTES + 1))
    parts = {f"xl__media__{number}": b"" for number in range(limits.MAX_PARTS + 1)}
    assert "parts inside" in refusal(repacked(plain(), **parts))
    book = workbook([["item"]])
    for number in range(limits.MAX_TABS):
        book.create_sheet(str(number))
    assert "tabs" in refusal(saved(book))
    assert "10,000" in refusal(b"item,serial\n" + b"a,1\n" * (limits.MAX_ROWS + 1))


def test_many_filled_rows_of_a_workbook_are_refused_while_they_stream():
    rows = b"".join(b'<row><c t="inlineStr"><is><t>a</t></is></c></row>' for _ in range(limits.MAX_ROWS + 1))
    sheet = b"<worksheet><sheetData>" + rows + b"</sheetData></worksheet>"
    assert "10,000" in refusal(repacked(plain(), xl__worksheets__sheet1_dot_xml=sheet))


def test_a_sheet_that_names_a_file_or_an_address_fetches_nothing(monkeypatch):
    import socket

    monkeypatch.setattr(socket, "create_connection", lambda *a, **k: pytest.fail("a connection was made"))
    book = workbook(
        [["item", "serial"], ["Pane", '=WEBSERVICE("https://example.org/x")'], ["Pane", "=cmd|' /C calc'!A0"]]
    )
    rows = read(saved(book), "gear.xlsx").tabs[0].rows
    assert [row[1].form for row in rows[1:]] == [Form.FORMULA, Form.FORMULA]
    assert "file:" not in rows[1][1].text


def test_rows_that_follow_one_another_are_told_together():
    spots = [Spot("Gear", row) for row in (3, 4, 5, 8)] + [Spot("Gear", row, 9) for row in (6, 8, 9)]
    assert runs(spots) == ["rows 4 to 6", "row 9", "J7", "J9 to J10"]
