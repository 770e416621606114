"""Papers say how sure the book is: strength and age of sight, scale beside sum, seals, what became of each thing."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal

import pypdfium2
import pytest

from inventory import papers
from inventory.ledger import Fact, record
from inventory.models import Grade, IssuedPaper, Item, PlaceKind, Verb
from inventory.photos import keep
from shipping.documents.forms import draft, form_of, looked_at
from shipping.limits import set_limit
from shipping.models import Consignment, ConsignmentCase, Leg
from tests.factories import ANA, IDA, make_case, make_item, make_place
from tests.inventory.test_photos import picture
from tests.shipping.papered import AT, World, make_world


@pytest.fixture
def world(db, settings) -> World:
    settings.PUBLIC_URL = "https://gear.example.org"
    return make_world()


def issue(world: World, kind: str, at=AT) -> IssuedPaper:
    return papers.issue(draft(kind, world.subject(kind), "", at), by="Ida Penrake", at=at)


def text_of(paper: IssuedPaper) -> str:
    document = pypdfium2.PdfDocument(papers.pdf_of(paper, form_of(paper.kind)))
    return " ".join(" ".join(page.get_textpage().get_text_range() for page in document).split())


def changed(paper: IssuedPaper, at=AT) -> tuple[str, ...]:
    return looked_at([paper], at)[0].changed


def seal(world: World, number: str, at=AT) -> None:
    record([Fact(Verb.SEALED, world.frame_case, seal=number)], by=ANA, at=at)


@pytest.mark.parametrize("kind", ["case-list", "packing-list"])
def test_each_line_says_how_sure_who_saw_it_and_when(world, kind):
    assert "seen, 14 Mar 2026 12:00, Ida Penrake" in text_of(issue(world, kind))
    seal(world, "004470")
    assert "sealed in, 14 Mar 2026 12:00, Ida Penrake" in text_of(issue(world, kind, AT + timedelta(hours=1)))


def test_what_nobody_packed_is_told_as_planned_only(world):
    make_item(serial="KW-77", home_case=world.frame_case)
    words = text_of(issue(world, "case-list"))
    assert "belongs here, not in it planned only" in words


def images_in(paper: IssuedPaper) -> int:
    page = pypdfium2.PdfDocument(papers.pdf_of(paper, form_of(paper.kind)))[0]
    return sum(one.type == pypdfium2.raw.FPDF_PAGEOBJ_IMAGE for one in page.get_objects(max_depth=9))


def test_the_list_in_the_lid_shows_the_good_pack_and_the_outside_copy_does_not(world):
    assert images_in(issue(world, "case-list")) == 0
    photo = keep(picture(), by="Ida Penrake", at=AT)
    record([Fact(Verb.CHECKED, world.frame_case, photo=photo, rule="shut-down")], by=ANA, at=AT)
    assert images_in(issue(world, "case-list")) == 1
    assert images_in(issue(world, "case-list-outside")) == 0


def test_a_rack_case_is_drawn_from_the_side_and_a_drive_box_by_its_slots(world):
    rack = world.frame_case.type.container
    rack.rack_units = 10
    rack.save()
    world.panel.type.rack_units = 3
    world.panel.type.save()
    record([Fact(Verb.PACKED, world.panel, place=world.frame_case.inside, bay="U2")], by=IDA, at=AT)
    body = draft("case-list", "HER-01", "", AT).body
    assert (body.rack.rack_units, body.rack.units[0].bottom, body.rack.balance_pct) == (10, 2, 25)
    assert body.rack.limit_pct == 45 and body.rack.tips == ""
    assert "balance 25%" in text_of(issue(world, "case-list"))
    box = draft("case-list", "HER-04", "", AT).body
    assert box.rack is None
    assert [slot.label for slot in box.slots] == ["A", "B", "C", "D", "E", "F", "pocket"]


def test_a_measured_rack_case_says_on_paper_where_it_balances_and_by_the_limit_in_force(world):
    kind = world.frame_case.type
    kind.container.rack_units, kind.container.tare_kg = 10, 20
    kind.container.save()
    kind.length_mm, kind.width_mm, kind.height_mm = 800, 600, 600
    kind.save()
    panel = world.panel.type
    panel.rack_units, panel.mass_kg = 3, 16
    panel.save()
    stay = [one for one in Item.objects.filter(holding__place=world.frame_case.inside) if one != world.panel]
    record([Fact(Verb.PLACED, one, place=make_place()) for one in stay], by=IDA, at=AT)
    record([Fact(Verb.PACKED, world.panel, place=world.frame_case.inside, bay="U2")], by=IDA, at=AT)
    set_limit("heavy-low", "cog_pct", Decimal(40), valid_from=AT.date(), source="ours", by=IDA, at=AT)
    body = draft("case-list", "HER-01", "", AT).body
    assert body.rack.limit_pct == 40 and body.rack.tips.startswith("sideways at ")
    said = text_of(issue(world, "case-list"))
    assert "keep below 40%" in said and "centre of mass; tips sideways" in said and "not an approval" in said


def test_a_list_does_not_go_stale_because_its_case_was_looked_at_or_sealed(world):
    paper = issue(world, "case-list")
    record([Fact(Verb.SEEN, world.panel, grade=Grade.SCAN)], by=ANA, at=AT)
    seal(world, "004470")
    assert changed(paper, AT + timedelta(minutes=1)) == ()


def test_the_scale_stands_beside_the_sum(world):
    assert "computed, not weighed" in text_of(issue(world, "case-label"))
    record([Fact(Verb.WEIGHED, world.frame_case, mass_g=38_900)], by=ANA, at=AT)
    later = AT + timedelta(minutes=1)
    words = text_of(issue(world, "case-label", later))
    assert "39 kg / 86 lb weighed; 41.6 kg computed" in words
    assert "39 kg / 86 lb (weighed; 41.6 kg computed)" in text_of(issue(world, "case-list", later))
    line = draft("truck-sheet", world.subject("truck-sheet"), "", later).body.lines[1]
    assert (line.label, line.kg, line.weighed) == ("HER-01", "39", True)


def test_a_reading_from_before_the_case_was_opened_is_not_printed(world):
    record([Fact(Verb.WEIGHED, world.frame_case, mass_g=38_900)], by=ANA, at=AT)
    extra = make_item(home_case=world.frame_case)
    later = AT + timedelta(minutes=1)
    record([Fact(Verb.PACKED, extra, place=world.frame_case.inside)], by=ANA, at=later)
    assert draft("case-label", "HER-01", "", later).body.weighed == "not all masses entered"


PRINTS_THE_SEAL = ("case-label", "case-list-outside", "packing-list", "return-checklist", "truck-sheet")


@pytest.mark.parametrize("kind", PRINTS_THE_SEAL)
def test_the_seal_is_printed_once_the_case_is_sealed(world, kind):
    assert "004470" not in text_of(issue(world, kind))
    seal(world, "004470")
    assert "004470" in text_of(issue(world, kind, AT + timedelta(minutes=1)))


@pytest.mark.parametrize("kind", PRINTS_THE_SEAL)
def test_a_paper_with_a_line_for_the_seal_stays_current_and_one_with_another_seal_does_not(world, kind):
    blank, later = issue(world, kind), AT + timedelta(minutes=2)
    seal(world, "004470")
    assert changed(blank, later) == ()
    sealed = issue(world, kind, AT + timedelta(minutes=1))
    seal(world, "004499", later)
    assert any("004470, now 004499" in line for line in changed(sealed, later))


def test_an_open_case_has_a_line_to_write_its_seal_on(world):
    assert "Seal no. ______" in text_of(issue(world, "case-label"))


def record_on(world: World) -> None:
    told = {"drive_set": world.drive.home_set, "reference": "FMC"}
    record([Fact(Verb.RECORDING, **told)], by=IDA, at=AT)
    record([Fact(Verb.STOPPED, **told)], by=IDA, at=AT + timedelta(minutes=30))


def blank(world: World) -> None:
    record([Fact(Verb.DECLARED_BLANK, world.drive, note="looked at on the bench")], by=IDA, at=AT)


def blank_then_record(world: World) -> None:
    blank(world)
    record_on(world)


@pytest.mark.parametrize(
    ("act", "word"),
    [
        (lambda world: None, "NOT KNOWN"),
        (record_on, "HOLDS CONTENT"),
        (blank, "BLANK"),
        (blank_then_record, "HOLDS CONTENT"),
    ],
)
def test_the_box_card_says_what_the_wipe_answer_knows(world, act: Callable[[World], None], word):
    act(world)
    body = draft("drive-card", "HER-04", "", AT + timedelta(hours=1)).body
    assert (body.state, body.cells[0].state, body.drives) == (word, word, 1)
    assert word in text_of(issue(world, "drive-card", AT + timedelta(hours=1)))


def test_a_box_card_goes_stale_when_the_drives_record(world):
    blank(world)
    later = AT + timedelta(minutes=1)
    card = issue(world, "drive-card", later)
    assert changed(card, later) == ()
    record_on(world)
    assert "state: BLANK, now HOLDS CONTENT" in changed(card, AT + timedelta(hours=1))


def test_a_box_in_somebodys_hands_says_whose_and_how_to_ring(world, road_lead):
    road_lead.phone = "+44 1632 960155"
    road_lead.save()
    hands = make_place("Ana Rell", PlaceKind.PERSON, person=road_lead)
    assert draft("drive-card", "HER-04", "", AT).body.holder == ""
    record([Fact(Verb.HANDED_OVER, world.box, place=hands, person=road_lead)], by=IDA, at=AT)
    body = draft("drive-card", "HER-04", "", AT).body
    assert (body.holder, body.phone) == ("Ana Rell", "+44 1632 960155")


def send_out(world: World) -> None:
    """Teasel takes the frame case and the box away from Mill Yard."""
    truck = world.leg.vehicle
    store = make_place("Mill Yard", is_ours=True)
    record([Fact(Verb.PLACED, thing, place=store) for thing in (truck, world.frame_case, world.box)], by=IDA, at=AT)
    loaded = [Fact(Verb.LOADED, case, place=truck.inside, grade=Grade.SCAN) for case in (world.frame_case, world.box)]
    record(loaded, by=ANA, at=AT + timedelta(minutes=5))
    away = Fact(Verb.DEPARTED, truck, place=world.leg.road, reference="FMC", grade=Grade.SCAN)
    record([away], by=ANA, at=AT + timedelta(minutes=10))


def test_before_anything_left_the_checklist_tells_what_is_to_go(world):
    words = text_of(issue(world, "return-checklist"))
    assert "Nothing has left a store with FMC yet." in words
    assert "not left yet" in words


def test_the_return_checklist_says_what_became_of_each_thing(world):
    send_out(world)
    back = AT + timedelta(days=5)
    store = make_place("Mill Yard")
    record([Fact(Verb.ARRIVED, world.frame_case, place=store, grade=Grade.SCAN)], by=ANA, at=back)
    record([Fact(Verb.SEEN, world.panel, grade=Grade.SCAN, condition="scratched")], by=IDA, at=back)
    later = back + timedelta(hours=1)
    body = draft("return-checklist", "FMC", "", later).body
    lines = {line.words: line for case in body.cases for line in case.lines}
    assert lines["Orrinvale Ebbmark Wide"].by_now.startswith("back · 19 Mar 2026 13:00, Ida Penrake")
    assert lines["Orrinvale Ebbmark Wide"].ticked
    assert lines["Kittiwade Cord C13"].by_now.startswith("not looked for")
    assert not lines["Kittiwade Cord C13"].ticked
    words = text_of(issue(world, "return-checklist", later))
    assert "back · 19 Mar 2026 13:00, Ida Penrake" in words
    assert "1 of 2 cases" in words


def test_the_checklist_says_once_what_holds_for_most_things_of_a_case(world):
    more = [make_item(name=f"thing {n}", home_case=world.frame_case) for n in range(4)]
    record([Fact(Verb.PACKED, one, place=world.frame_case.inside) for one in more], by=IDA, at=AT)
    send_out(world)
    record([Fact(Verb.MISSED, more[3], reference="FMC")], by=ANA, at=AT + timedelta(hours=1))
    body = draft("return-checklist", "FMC", "", AT + timedelta(days=1)).body
    case = next(one for one in body.cases if one.label == "HER-01")
    plain = {line.words: line.plain for line in case.lines}
    assert case.most.startswith("not looked for") and [plain[f"thing {n}"] for n in range(4)] == [True] * 3 + [False]
    words = text_of(issue(world, "return-checklist", AT + timedelta(days=1)))
    assert words.count(case.most) == 1
    assert "missed" in words


def test_a_return_checklist_stays_current_while_things_come_back(world):
    send_out(world)
    paper = issue(world, "return-checklist", AT + timedelta(days=1))
    back = AT + timedelta(days=5)
    facts = [Fact(Verb.ARRIVED, case, place=make_place("Mill Yard")) for case in (world.frame_case, world.box)]
    record([*facts, Fact(Verb.SEEN, world.panel, grade=Grade.SCAN)], by=ANA, at=back)
    assert changed(paper, back) == ()


def second_stop(world: World, number: str = "HER-20") -> None:
    """A case more on Teasel, which goes on to another venue."""
    consignment = Consignment.objects.create(show=world.show, name="on to the annexe")
    case = make_case(number, world.frame_case.type, home_system=world.frame_case.home_system)
    ConsignmentCase.objects.create(consignment=consignment, case=case, position=1, first_off=True)
    leg = world.leg
    Leg.objects.create(
        consignment=consignment, position=1, vehicle=leg.vehicle, from_place=leg.from_place, driver=leg.driver,
        to_place=make_place("Annexe", PlaceKind.VENUE), road=make_place("road to the annexe", PlaceKind.ROAD),
        departs_at=leg.departs_at, arrives_at=leg.arrives_at + timedelta(hours=2),
    )  # fmt: skip


def test_one_truck_sheet_holds_all_that_the_vehicle_carries_last_stop_by_the_headboard(world):
    second_stop(world)
    body = draft("truck-sheet", world.subject("truck-sheet"), "", AT).body
    assert body.stops == ("Fjellmark Hall", "Annexe")
    assert [(line.turn, line.label, line.stop) for line in body.lines] == [
        (1, "HER-20", "2"), (2, "HER-04", "1"), (3, "HER-01", "1"),
    ]  # fmt: skip


def test_rows_that_were_scanned_beat_the_plan_and_are_ordered_as_numbers(world):
    second_stop(world)
    truck = world.leg.vehicle
    rows = [Fact(Verb.LOADED, world.box, place=truck.inside, bay="10.1.1"),
            Fact(Verb.LOADED, world.frame_case, place=truck.inside, bay="2.1.1")]  # fmt: skip
    record(rows, by=ANA, at=AT)
    body = draft("truck-sheet", world.subject("truck-sheet"), "", AT).body
    assert [line.label for line in body.lines] == ["HER-01", "HER-04", "HER-20"]


@pytest.mark.parametrize(("more", "pages"), [(14, 1), (22, 1), (44, 2)])
@pytest.mark.parametrize("medium", ["a4", "letter"])
def test_a_truck_sheet_fits_one_page_up_to_24_cases(world, more, pages, medium):
    consignment = world.leg.consignment
    for number in range(10, 10 + more):
        case = make_case(f"HER-{number}", world.frame_case.type, home_system=world.frame_case.home_system)
        row = {"position": number, "to_room": "Production office, second floor", "first_off": number % 7 == 0}
        ConsignmentCase.objects.create(consignment=consignment, case=case, **row)
    made = draft("truck-sheet", world.subject("truck-sheet"), medium, AT)
    paper = papers.issue(made, by="Ida Penrake", at=AT)
    assert len(pypdfium2.PdfDocument(papers.pdf_of(paper, made.form))) == pages
