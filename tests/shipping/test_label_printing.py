"""Labels by the roll and by the sheet: from the command line, and for everything of a system from its page."""

from __future__ import annotations

import io

import pypdfium2
import pytest
from django.core.management import CommandError, call_command
from django.template import Context, Template
from django.urls import reverse

from inventory import papers
from inventory.models import IssuedPaper, Kind
from shipping.documents.forms import LABEL_KINDS, draft, form_of
from tests.factories import make_item, make_type
from tests.shipping.papered import AT, World, make_world

LABELS = [(kind, medium) for kind in LABEL_KINDS.values() for medium in form_of(kind).media]
MM = 72 / 25.4
SIZES = {
    "100x150": (100, 150), "100x150-black": (100, 150), "62x29": (62, 29), "62x22": (62, 22), "90x24": (90, 24),
    ("case-label", "a4"): (297, 210), ("case-label", "letter"): (279.4, 215.9),
    ("item-label", "a4"): (210, 297), ("item-label", "letter"): (215.9, 279.4),
}  # fmt: skip


@pytest.fixture
def world(db, settings) -> World:
    settings.PUBLIC_URL = "https://gear.example.org"
    return make_world()


@pytest.mark.parametrize(("kind", "medium"), LABELS)
def test_the_labels_command_prints_every_medium_in_its_size(world, tmp_path, kind, medium):
    out, said = tmp_path / "labels.pdf", io.StringIO()
    call_command("labels", world.subject(kind), medium=medium, output=str(out), stdout=said)
    page = pypdfium2.PdfDocument(out.read_bytes())[0]
    expected = SIZES.get(medium) or SIZES[kind, medium]
    assert (page.get_width() / MM, page.get_height() / MM) == pytest.approx(expected, abs=0.2)
    assert kind.split("-")[0] in said.getvalue()


@pytest.mark.parametrize("medium", ["a4", "letter"])
def test_two_case_labels_stand_on_one_sheet(world, tmp_path, medium):
    out = tmp_path / "labels.pdf"
    call_command("labels", "HER-01", "HER-04", medium=medium, output=str(out), stdout=io.StringIO())
    pages = list(pypdfium2.PdfDocument(out.read_bytes()))
    words = [page.get_textpage().get_text_range() for page in pages]
    codes = [item.labels.get().code for item in (world.frame_case, world.box)]
    assert [[text.count(code) for code in codes] for text in words] == [[2, 0], [0, 2]]


def test_the_labels_command_prints_by_code_and_number(world, tmp_path):
    out, said = tmp_path / "labels.pdf", io.StringIO()
    code = world.box.labels.get().code
    call_command("labels", "HER-01", code, medium="100x150", output=str(out), stdout=said)
    assert len(pypdfium2.PdfDocument(out.read_bytes())) == 4
    assert said.getvalue().startswith("2 × case label, 2 of each, 100x150")
    assert IssuedPaper.objects.filter(kind="case-label").count() == 2


@pytest.mark.parametrize(
    ("codes", "medium", "says"),
    [
        (["HER-99"], "", "Nothing here has the code or number HER-99."),
        (["HER-01"], "stone", "A case label is printed on 100x150"),
    ],
)
def test_the_labels_command_refuses_in_a_sentence_and_writes_nothing(world, tmp_path, codes, medium, says):
    out = tmp_path / "labels.pdf"
    with pytest.raises(CommandError, match=says):
        call_command("labels", *codes, medium=medium, output=str(out))
    assert not out.exists()
    assert not IssuedPaper.objects.exists()


def test_labels_of_different_kinds_are_not_mixed_on_one_roll(world, tmp_path):
    code = world.drive.labels.get().code
    with pytest.raises(CommandError, match="Print one kind at a time"):
        call_command("labels", "HER-01", code, output=str(tmp_path / "x.pdf"))


def test_all_case_labels_of_a_system_come_as_one_pdf(world, sign_in, crew):
    client = sign_in(crew)
    answer = client.post(reverse("paper-labels", args=["heron"]), {"kind": "case-label"}, follow=True)
    assert answer["Content-Type"] == "application/pdf"
    assert len(pypdfium2.PdfDocument(answer.content)) == 4
    assert {one.subject for one in IssuedPaper.objects.all()} == {"HER-01", "HER-04"}
    again = client.post(reverse("paper-labels", args=["heron"]), {"kind": "case-label"}, follow=True)
    assert again.content == answer.content
    assert IssuedPaper.objects.count() == 2


@pytest.mark.parametrize(
    ("data", "says"),
    [({"kind": "stone"}, "There is no paper called stone."), ({"kind": "cord-flag"}, "Heron has nothing that wears"),
     ({"kind": "case-label", "medium": "stone"}, "not on stone")],
)  # fmt: skip
def test_labels_of_a_system_that_cannot_be_printed_are_refused_in_a_sentence(world, sign_in, crew, data, says):
    answer = sign_in(crew).post(reverse("paper-labels", args=["heron"]), data, follow=True)
    assert says in answer.content.decode()
    assert not IssuedPaper.objects.exists()


def test_a_sheet_of_papers_that_do_not_belong_together_is_not_found(world, sign_in, crew):
    client = sign_in(crew)
    made = [papers.issue(draft(kind, "HER-01", "", AT), by="Ida", at=AT) for kind in ("case-label", "case-list")]
    for of in ("", "999999", "x", f"{made[0].pk}-{made[1].pk}", str(made[1].pk)):
        assert client.get(f"/paper/sheet/{of}/").status_code == 404


def test_a_shows_page_offers_the_sheets_of_its_legs_and_lists_them(world):
    papers.issue(draft("truck-sheet", f"leg {world.leg.pk}", "", AT), by="Ida", at=AT)
    context = Context({"one": world.show, "is_house": True})
    page = Template("{% load paperwork %}{% papers_of one %}").render(context)
    assert f"/paper/issue/truck-sheet/leg%20{world.leg.pk}/" in page
    assert "Print truck load sheet: Teasel, Mill Yard to Fjellmark Hall" in page
    assert page.count("truck load sheet</a>") == 1


@pytest.mark.parametrize("house", [True, False])
def test_a_dock_offers_its_sheet_to_the_house_only(world, house):
    page = Template("{% load paperwork %}{% print_buttons one %}").render(
        Context({"one": world.leg, "is_house": house})
    )
    assert ("Print truck load sheet" in page) is house


def test_the_page_of_a_thing_offers_its_label_and_what_to_hang_on_it_when_it_breaks(sign_in, kit_manager):
    panel = make_item(make_type("Ebbmark Wide", kind=Kind.PANEL), serial="41R1622F")
    page = sign_in(kit_manager).get(f"/item/{panel.code}/").content.decode()
    assert all(f"Print {words}" in page for words in ("item label", "fault tag", "damage report"))
