"""Cells as people write them: numbers, units, dates, serials, quantities."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.exchange.cells import amount_of, decimal_sign, labels_in_order, readings, yes_or_no
from inventory.exchange.columns import FIELDS, Reads, could_mean, heading_of
from inventory.exchange.days import day_of, day_order
from inventory.exchange.identity import count_of, serial_of
from inventory.exchange.kinds import kind_in, kind_of
from inventory.exchange.measures import size_order
from inventory.exchange.raw import Cell, Form, text_cell


@pytest.mark.parametrize(
    ("text", "dot", "comma"),
    [
        ("12", "12", "12"),
        ("1.5", "1.5", None),
        ("1,5", None, "1.5"),
        ("1.234", "1.234", "1234"),
        ("1,234", "1234", "1.234"),
        ("1,234.5", "1234.5", None),
        ("1.234,5", None, "1234.5"),
        ("0.234", "0.234", None),
        ("1234.567", "1234.567", None),
        ("1 234,5", None, "1234.5"),
        ("1'234.50", "1234.50", None),
        ("1.234.567", None, "1234567"),
        ("-3", "-3", "-3"),
        (".5", "0.5", None),
        ("1.2.3", None, None),
        ("1,23,456", None, None),
    ],
)
def test_a_numeral_has_the_readings_its_signs_allow(text, dot, comma):
    assert readings(text) == (Decimal(dot) if dot else None, Decimal(comma) if comma else None)


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [("4.2 kg", "4.2", "kg"), ("9 lbs", "9", "lb"), ("480mm", "480", "mm"), ('19"', "19", "in"), ("5U", "5", "U"),
     ("\u20ac 120", "120", "EUR")],
)  # fmt: skip
def test_a_unit_in_the_cell_is_read(text, value, unit):
    amount = amount_of(text_cell(text))
    assert (amount.read("."), amount.unit) == (Decimal(value), unit)


@pytest.mark.parametrize("text", ["heavy", "about 5 kg", "5 to 6", "4 lb 6 oz", "5 stone", ""])
def test_words_that_are_no_amount_stay_unread(text):
    assert amount_of(Cell(text, Form.TEXT)) is None


def test_the_unit_of_a_number_format_counts_as_written_in_the_cell():
    assert amount_of(Cell("4.2", Form.NUMBER, 4.2, "kg")).unit == "kg"


@pytest.mark.parametrize(
    ("texts", "sign", "needed"),
    [
        (["1.234", "2.5"], ".", True),
        (["1.234", "2,5"], ",", True),
        (["1.234", "7"], "", True),
        (["1.234", "2,5", "2.5"], "", True),
        (["12", "7"], "", False),
    ],
)
def test_the_decimal_sign_is_decided_by_unambiguous_cells_of_the_column(texts, sign, needed):
    found = decimal_sign([text_cell(text) for text in texts])
    assert (found.sign, found.is_needed) == (sign, needed)


@given(st.decimals(min_value="0.001", max_value="9999.999", places=3))
def test_a_number_written_with_either_sign_reads_back(value):
    assert amount_of(text_cell(str(value))).read(".") == value
    assert amount_of(text_cell(str(value).replace(".", ","))).read(",") == value


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("2026-03-14", date(2026, 3, 14)),
        ("14/3/2026", date(2026, 3, 14)),
        ("3/14/2026", date(2026, 3, 14)),
        ("14 Mar 2026", date(2026, 3, 14)),
        ("March 14, 2026", date(2026, 3, 14)),
        ("14.03.26", date(2026, 3, 14)),
        ("4/4/2026", date(2026, 4, 4)),
    ],
)
def test_an_unambiguous_date_is_read(text, day):
    assert day_of(text_cell(text)).read("") == day


def test_an_ambiguous_date_needs_the_order_of_its_column():
    day = day_of(text_cell("3/4/2026"))
    assert (day.read(""), day.read("day"), day.read("month")) == (None, date(2026, 4, 3), date(2026, 3, 4))


def test_a_typed_date_has_no_order():
    assert day_of(Cell("2026-03-04", Form.DATE, datetime(2026, 3, 4))).read("") == date(2026, 3, 4)


@pytest.mark.parametrize("text", ["31/31/2026", "soon", "2026", "30 Feb 2026", "46000"])
def test_what_is_no_date_is_not_read(text):
    assert day_of(text_cell(text)) is None


def test_the_day_order_of_a_column_follows_its_unambiguous_dates():
    cells = [text_cell(text) for text in ("3/4/2026", "25/4/2026")]
    assert day_order(cells) == ("day", True)
    assert day_order(cells[:1]) == ("", True)


@pytest.mark.parametrize(
    ("cell", "state"),
    [
        (text_cell("00471 B"), "known"),
        (text_cell("71E04"), "known"),
        (text_cell("1.23E+11"), "refused"),
        (text_cell("1,23E+11"), "refused"),
        (Cell("123456789012", Form.NUMBER, 123456789012), "refused"),
        (Cell("71B04K", Form.FORMULA), "refused"),
        (Cell("2026-03-04", Form.DATE, date(2026, 3, 4)), "refused"),
        (Cell("#REF!", Form.ERROR), "refused"),
        (text_cell("n/a"), "none"),
        (text_cell("-"), "none"),
        (text_cell("none"), "none"),
        (text_cell("Worn"), "worn"),
        (text_cell("unreadable"), "worn"),
        (text_cell("TBC"), "asked"),
        (text_cell("?"), "asked"),
        (text_cell("71B04?"), "asked"),
        (text_cell("9" * 81), "refused"),
    ],
)
def test_a_serial_is_kept_as_written_asked_or_refused(cell, state):
    assert serial_of(cell).state == state


def test_a_refused_serial_says_what_to_do():
    sentence = serial_of(Cell("123456789012", Form.NUMBER, 123456789012)).sentence
    assert "123456789012" in sentence
    assert "from the plate" in sentence


@pytest.mark.parametrize(
    ("text", "count"),
    [
        ("1", 1), ("24", 24), ("24 pcs", 24), ("x3", 3), ("3 off", 3), ("2 doz", 24), ("2 dozen", 24),
        ("about 20", None),
        ("10+", None), ("3-4", None), ("10 m", None), ("", None), ("0", None), ("-2", None), ("2.5", None),
        ("1 pair", None), ("lots", None),
    ],
)  # fmt: skip
def test_a_quantity_is_a_whole_number_or_is_asked(text, count):
    assert count_of(Cell(text, Form.TEXT)).number == count


def test_a_quantity_read_from_words_is_shown():
    assert "24 pieces" in count_of(text_cell("2 doz")).remark
    assert count_of(text_cell("24")).remark == ""


@pytest.mark.parametrize(("value", "count"), [(3.0, 3), (2.5, None), (0, None), (-1, None)])
def test_a_numeric_quantity_must_be_whole(value, count):
    assert count_of(Cell(str(value), Form.NUMBER, value)).number == count


@pytest.mark.parametrize(
    ("heading", "field", "unit"),
    [
        ("Serial No.", "serial", ""),
        ("S/N", "serial", ""),
        ("Weight (kg)", "mass_kg", "kg"),
        ("weight lbs", "mass_kg", "lb"),
        ("KG", "mass_kg", "kg"),
        ("W (mm)", "width_mm", "mm"),
        ("Lives in", "home_case", ""),
        ("Qty", "quantity", ""),
        ("Tape colour", "colour", ""),
        ("L x W x H (cm)", "size", "cm"),
        ("Value (EUR)", "replacement_value", "EUR"),
        ("Lives in (mm)", "home_case", "mm"),
        ("Favourite song", None, ""),
        ("", None, ""),
    ],
)
def test_headings_are_forgiving(heading, field, unit):
    assert heading_of(heading) == (field, unit)


def test_a_heading_used_for_different_things_is_not_guessed():
    assert heading_of("Location")[0] is None
    assert could_mean("Location") == ("home_case", "place")


def test_no_heading_means_two_fields():
    forms = [word for field in FIELDS for word in {field.heading.casefold(), *field.others}]
    assert len(forms) == len(set(forms))
    assert all(heading_of(word)[0] is not None for word in forms)


def test_every_way_of_reading_is_used_by_some_column():
    assert {field.reads for field in FIELDS} == set(Reads)


@pytest.mark.parametrize(
    ("word", "kind"),
    [("Mains lead", "cord"), ("PSU", "power supply"), ("dongle", "licence key"), ("SSD", "drive"), ("hat", None)],
)
def test_a_kind_column_is_forgiving(word, kind):
    assert kind_of(word) == kind


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("Drive case 6 slots", "case"),
        ("Ebbmark 6 frame", "frame"),
        ("Panel cover", "cover"),
        ("Keyboard", "keyboard"),
        ("Power cord C19", "cord"),
        ("Marvel", None),
    ],
)
def test_the_words_of_an_item_point_to_its_kind(name, kind):
    assert kind_in(name) == kind


@pytest.mark.parametrize(
    ("text", "labels"), [("A-F", list("ABCDEF")), ("A B C", list("ABC")), ("1-4", list("1234")), ("a,b", ["A", "B"])]
)
def test_bays_and_slots_are_read_in_order(text, labels):
    assert labels_in_order(text) == labels


@pytest.mark.parametrize("text", ["F-A", "A A", "A-4"])
def test_what_is_no_order_of_labels_is_not_read(text):
    with pytest.raises(ValueError):
        labels_in_order(text)


@pytest.mark.parametrize(
    ("cell", "said"),
    [
        (text_cell("Yes"), True),
        (text_cell("n"), False),
        (Cell("TRUE", Form.FLAG, True), True),
        (text_cell("maybe"), None),
    ],
)
def test_yes_and_no_are_read_and_nothing_else(cell, said):
    assert yes_or_no(cell) is said


def test_the_order_of_three_lengths_follows_the_heading():
    assert size_order("W x D x H") == ("width_mm", "length_mm", "height_mm")
    assert size_order("Dimensions") == ("length_mm", "width_mm", "height_mm")
