"""Drawings say in words what they show, keep hostile text as text, and need nothing that a strict page forbids."""

from __future__ import annotations

import re
from datetime import timedelta
from decimal import Decimal
from pathlib import Path
from uuid import uuid4
from xml.etree import ElementTree

import pytest

from inventory.answers.values import Evidence, ItemRef, Link, PlaceRef, Strength, Whereabouts
from inventory.drawings import svg
from inventory.drawings.bays import BayCell, BayState, bay_map
from inventory.drawings.face import CaseFace, case_face
from inventory.drawings.floor import KEY, Floor, FloorAxle, FloorCase, floor_lines, floor_plan
from inventory.drawings.marks import Mark, handling_mark, words_of
from inventory.drawings.nested import nested_boxes
from inventory.drawings.section import CaseSection, RackPiece, SlotPiece, case_section, settled, slot_view
from inventory.drawings.strip import Clash, Span, SpanKind, StripRow, dock_strip
from tests.factories import T0

SVG = "{http://www.w3.org/2000/svg}"
PRINT_CSS = Path(__file__).parents[2] / "templates/documents/print.css"
HOSTILE = (
    '<script>alert(1)</script> "\'> <image href="file:///etc/passwd"/> \x00\x1b\u202egnol ' + "x" * 500 + " 🦊 שלום"
)


def whereabouts(*strengths: Strength, name: str = "HER-04") -> Whereabouts:
    item = ItemRef(1, "3479ACE", "", "Ingot 4T", "PM-71B04K")
    witness = Evidence(uuid4(), "loaded", "scan", "Ana Rell", T0)
    links = tuple(
        Link(item, PlaceRef(i, "inside", f"{name}/{i}"), "C", strength, witness, witness, seal="004470")
        for i, strength in enumerate(strengths)
    )
    return Whereabouts(item, T0, links, strengths[0] if strengths else Strength.UNKNOWN, T0, f"It is in {name}.")


def strip(label: str = "Heron", words: str = "Chess"):
    day = timedelta(days=1)
    spans = tuple(Span(kind, T0 + i * day, T0 + (i + 1) * day, words) for i, kind in enumerate(SpanKind))
    clash = Clash(label, T0, T0 + day, "two shows want it")
    return dock_strip([StripRow(label, spans)], start=T0 - day, end=T0 + 9 * day, clashes=[clash], now=T0)


def a_floor(words: str, **more: object) -> Floor:
    cases = (
        FloorCase(words, (0, 0, 0), (800, 600, 500), 1, 1, 1, 2),
        FloorCase("HER-05", (100, 0, 500), (600, 400, 250), 1, 1, 2, 2),
        FloorCase("HER-02", (800, 0, 0), (600, 1200, 400), 2, 1, 1, 1, True),
    )
    axles = (FloorAxle("front axle", -900, "2,878 kg at departure"), FloorAxle("rear axle", 3300))
    return Floor(**{"vehicle": words, "size_mm": (6100, 2400, 2300), "cases": cases, "axles": axles,
                    "stops": ("Fjellmark Hall", words), "lines": (words,)} | more)  # fmt: skip


def everything(words: str) -> list[str]:
    rack = CaseSection(words, 5, 600, (RackPiece(words, 2, 1, Decimal("3.1"), 400, True, True),), 30, 80, 0.4, 0.45)
    return [
        floor_plan(a_floor(words)),
        bay_map([BayCell(words, words, state, words) for state in BayState]),
        nested_boxes(whereabouts(*Strength, name=words)),
        case_section(rack),
        slot_view(words, [SlotPiece(words, words, "1 kg", "wrong")]),
        strip(words, words),
        case_face(CaseFace(words, 800, 600, words)),
        case_face(CaseFace(words, None, None)),
        *(handling_mark(mark, 4) for mark in Mark),
    ]


@pytest.mark.parametrize("words", ["HER-04", HOSTILE], ids=["plain", "hostile"])
def test_every_drawing_is_whole_xml_with_a_name_and_words(words):
    for drawing in everything(words):
        root = ElementTree.fromstring(drawing)
        assert root.tag == f"{SVG}svg"
        assert root.get("role") == "img"
        assert root.find(f"{SVG}title").text
        assert root.find(f"{SVG}desc").text


def test_hostile_words_stay_words():
    shapes = {f"{SVG}{name}" for name in ("svg", "title", "desc", "text", "rect", "line", "path", "circle", "ellipse")}
    for drawing in everything(HOSTILE):
        assert {element.tag for element in ElementTree.fromstring(drawing).iter()} <= shapes
        assert not re.search("[\x00-\x08\x0b-\x1f\u202a-\u202e]", drawing)


def test_drawings_use_presentation_attributes_and_the_page_s_own_colour():
    for drawing in everything("HER-04"):
        attributes = {name for element in ElementTree.fromstring(drawing).iter() for name in element.attrib}
        assert attributes.isdisjoint({"style", "id", "href", "onload"})
        assert set(re.findall(r'(?:fill|stroke)="([^"]+)"', drawing)) <= {"none", "currentColor"}


def test_a_drawing_is_the_same_each_time():
    assert everything("HER-04") == everything("HER-04")


def texts(drawing: str) -> list[str]:
    return [element.text for element in ElementTree.fromstring(drawing).iter(f"{SVG}text")]


def test_a_bay_map_keeps_the_bays_in_order_and_says_each_state():
    drawing = bay_map([BayCell("A", "71B04K", "fitted"), BayCell("B", "71B04L", "wrong", "this is CURLEW-1's D")])
    assert texts(drawing)[:3] == ["A", "71B04K", "fitted"]
    assert "B: 71B04L wrong, this is CURLEW-1's D" in drawing.replace("&#x27;", "'")


def test_an_unknown_bay_state_is_refused():
    with pytest.raises(ValueError, match="sideways"):
        bay_map([BayCell("A", state="sideways")])


def test_each_bay_state_has_a_shape_of_its_own():
    shapes = {re.sub(r"<title>.*</desc>|<text.*?</text>", "", bay_map([BayCell("A", state=s)])) for s in BayState}
    assert len(shapes) == len(BayState)


def test_nested_boxes_put_the_outermost_place_first_and_say_who_saw_what():
    drawing = nested_boxes(whereabouts(Strength.SEALED_IN, Strength.SEEN))
    words = texts(drawing)
    assert words.index("HER-04/1 · C") < words.index("HER-04/0 · C")
    assert "sealed in · seal 004470 · Ana Rell · Sat 14 Mar, 12:00" in words
    assert "seen" in drawing


def test_a_thing_whose_place_nobody_knows_is_still_drawn():
    assert "Ingot 4T" in texts(nested_boxes(whereabouts()))


def test_pieces_nobody_placed_are_drawn_heaviest_lowest_without_overlap():
    pieces = (RackPiece("light", 1, None, Decimal(2)), RackPiece("heavy", 3, None, Decimal(31)), RackPiece("set", 1, 2))
    bottoms = {piece.name: piece.bottom for piece in settled(CaseSection("HER-01", 8, None, pieces))}
    assert bottoms == {"set": 2, "light": 1, "heavy": 3}


def test_a_case_section_says_masses_rails_and_the_balance():
    drawing = case_section(
        CaseSection("HER-01", 6, 600, (RackPiece("Ebbmark 6", 5, 1, Decimal("31.0"), 500, True),), balance=0.41)
    )
    assert "Units 1 to 5: Ebbmark 6, 31 kg, rails." in drawing
    assert "balance 41%" in texts(drawing)
    assert "rear lid, gap not measured" in texts(drawing)


def test_an_unknown_mass_is_called_unknown():
    assert "mass not known" in case_section(CaseSection("HER-01", 2, None, (RackPiece("Shelf", 1),)))


def test_a_strip_says_every_span_and_every_clash():
    drawing = strip()
    for kind in SpanKind:
        assert f"{kind} 1" in drawing
    assert "Clash on Heron: two shows want it" in drawing
    assert "clash" in texts(drawing)


@pytest.mark.parametrize("hours", [1, 9, 17])
def test_no_date_of_a_strip_is_cut_at_its_end(hours):
    drawing = dock_strip([], start=T0, end=T0 + timedelta(days=4, hours=hours))
    right = float(re.search(r'viewBox="0 0 (\d+)', drawing)[1])
    dates = [float(x) for x in re.findall(r'<text x="([\d.]+)"[^>]*>\w{3} \d+ \w{3}<', drawing)]
    assert dates and all(x + 62 <= right for x in dates)


def test_a_strip_that_ends_before_it_starts_is_refused():
    with pytest.raises(ValueError, match="ends after"):
        dock_strip([], start=T0, end=T0)


def test_hatching_stays_inside_its_rectangle():
    for rising in (True, False):
        numbers = [float(n) for n in re.findall(r"-?\d+\.?\d*", re.search(r' d="([^"]+)"', svg.hatch(
            10, 20, 30, 8, rising=rising))[1])]  # fmt: skip
        assert all(10 <= x <= 40 for x in numbers[::2])
        assert all(20 <= y <= 28 for y in numbers[1::2])


def test_marks_carry_their_words_and_limits():
    assert words_of(Mark.STACK_LIMIT, 40) == "at most 40 kg on top"
    assert words_of(Mark.STACK_COUNT) == "count on top: ask"
    assert "this way up" in handling_mark(Mark.THIS_WAY_UP)
    with pytest.raises(ValueError, match="certified"):
        handling_mark("certified")


def test_long_words_are_cut_at_the_end_only():
    assert svg.fit("HERON-2 C in the pocket", 60, 12) == "HERON-2…"
    assert svg.wrap("one two three four", 50, 12, lines=2) == ["one two", "three…"]


def sides(face: CaseFace) -> tuple[float, float]:
    root = ElementTree.fromstring(case_face(face))
    outline = root.find(f"{SVG}rect")
    return float(outline.get("width")), float(outline.get("height"))


def test_a_case_twice_as_long_has_a_face_twice_as_long():
    short, long = sides(CaseFace("HER-01", 600, 500)), sides(CaseFace("HER-02", 1200, 500))
    assert long == (2 * short[0], short[1])


def test_a_face_says_its_size_and_tape_in_words_and_is_dashed_where_nobody_measured():
    assert "<desc>800 mm long, 600 mm high, BLUE tape</desc>" in case_face(CaseFace("HER-01", 800, 600, "BLUE"))
    assert "<desc>size not known</desc>" in case_face(CaseFace("HER-01", 800, None))
    assert "stroke-dasharray" in case_face(CaseFace("HER-01", 800, None))
    assert "drawn smaller" in case_face(CaseFace("HER-01", 5000, 600))


def test_a_floor_plan_says_row_by_row_what_stands_on_what_and_gets_off_where():
    words = ElementTree.fromstring(floor_plan(a_floor("HER-01"))).find(f"{SVG}desc").text
    assert "Row 1 from the headboard: HER-01, on it HER-05, off at HER-01." in words
    assert "Row 2 from the headboard: HER-02, off at Fjellmark Hall, first off." in words
    assert "front axle, -900 mm behind the headboard: 2,878 kg at departure." in words


def boxes(drawing: str) -> list[tuple[float, ...]]:
    """(x, y, width, height) of each rectangle: the deck from above, the same from the side, then the cases."""
    found = ElementTree.fromstring(drawing).iter(f"{SVG}rect")
    return [tuple(float(one.get(side)) for side in ("x", "y", "width", "height")) for one in found]


def test_a_case_number_on_a_printed_floor_plan_is_four_millimetres_high():
    """4 mm of body for arm's length: common practice, from memory."""
    sheet = ElementTree.fromstring(floor_plan(a_floor("HER-01")))
    assert "upright" in sheet.get("class", "").split()
    printed = float(re.search(r"svg\.upright \{[^}]*height: (\d+)mm", PRINT_CSS.read_text()).group(1))
    number = next(one for one in sheet.iter(f"{SVG}text") if one.text == "HER-02")
    assert float(number.get("font-size")) * printed / float(sheet.get("viewBox").split()[3]) >= 4


def test_the_name_of_an_axle_at_the_edge_stands_before_its_wheel():
    sheet = ElementTree.fromstring(floor_plan(a_floor("HER-01", axles=(FloorAxle("rear axle", 6100),))))
    (wheel,) = sheet.iter(f"{SVG}circle")
    name = next(one for one in sheet.iter(f"{SVG}text") if one.text == "rear axle")
    assert name.get("text-anchor") == "end"
    assert float(name.get("x")) < float(wheel.get("cx")) - float(wheel.get("r"))


def test_a_floor_plan_draws_to_scale_with_the_left_side_below():
    deck, roof, *cases = boxes(floor_plan(a_floor("HER-01", axles=(), stops=(), size_mm=(2400, 2400, 1200))))
    assert deck[2] / deck[3] == pytest.approx(1, rel=0.01) and roof[2] == deck[2]
    assert roof[3] / deck[3] == pytest.approx(1200 / 2400, rel=0.01)
    stack = next(box for box in cases if box[2] / deck[2] == pytest.approx(800 / 2400, rel=0.01))
    assert stack[0] == pytest.approx(deck[0], abs=0.1)
    assert stack[1] + stack[3] == pytest.approx(deck[1] + deck[3], abs=0.1)


def test_what_is_free_of_a_half_empty_deck_is_broken_off_and_the_load_keeps_its_scale():
    drawing = floor_plan(a_floor("HER-01", stops=()))
    deck, roof, stack, *_ = boxes(drawing)
    scale = stack[2] / 800
    assert stack[3] == pytest.approx(600 * scale, abs=0.1) and deck[3] == pytest.approx(2400 * scale, abs=0.1)
    assert deck[2] < 3000 * scale and roof[3] < 1500 * scale
    assert scale > 1.5 * (912 / 7150)  # as it would be with all of the deck and its front axle on the sheet
    said = texts(drawing)
    assert said.count("4,700 mm free") == 2 and "1,550 mm free above" in said


def test_a_deck_that_is_nearly_full_is_drawn_whole():
    full = (FloorCase("HER-01", (0, 0, 0), (4700, 600, 900), 1, 1, 1),)
    assert not [words for words in texts(floor_plan(a_floor("HER-01", cases=full))) if "free" in words]


def test_axles_stand_in_their_order_where_a_deck_is_broken_off():
    axles = tuple(FloorAxle(f"axle {at}", at) for at in (-900, 1300, 3300, 6000, 6900))
    root = ElementTree.fromstring(floor_plan(a_floor("HER-01", axles=axles)))
    wheels = [float(one.get("cx")) for one in root.iter(f"{SVG}circle")]
    assert wheels == sorted(wheels) and len(set(wheels)) == 5
    assert wheels[-1] < float(root.get("width"))


def test_what_belongs_below_a_floor_plan_is_said_axle_by_axle():
    assert floor_lines(a_floor("HER-01")) == ["front axle: 2,878 kg at departure.", "HER-01", KEY]


def test_an_empty_deck_is_still_drawn():
    assert "Nothing stands on the deck." in floor_plan(a_floor("HER-01", cases=(), axles=()))
