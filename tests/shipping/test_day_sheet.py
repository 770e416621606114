"""The day sheet: one code that lets a phone in, the times, the vehicles, whom to ring."""

from __future__ import annotations

from datetime import timedelta

import pypdfium2
import pytest
import zxingcpp

from inventory import labels, papers, passes
from inventory.models import IssuedPaper
from shipping.documents.forms import draft, form_of, looked_at
from tests.factories import make_pass
from tests.shipping.papered import AT, World, make_world


@pytest.fixture
def world(db, settings) -> World:
    settings.PUBLIC_URL = "https://gear.example.org"
    settings.OWNER_NAME, settings.OWNER_PHONE = "Lanternfold Field Pictures", "+44 1632 960100"
    return make_world()


@pytest.fixture
def day_pass(world):
    return make_pass("FMC", code="7KXH-4PWA", valid_from=AT, valid_until=AT + timedelta(hours=24))


def issue(medium: str = "a4", at=AT) -> IssuedPaper:
    return papers.issue(draft("day-sheet", "FMC", medium, at), by="Ida Penrake", at=at)


def text_of(paper: IssuedPaper) -> str:
    document = pypdfium2.PdfDocument(papers.pdf_of(paper, form_of(paper.kind)))
    return " ".join(" ".join(page.get_textpage().get_text_range() for page in document).split())


@pytest.mark.parametrize("medium", ["a4", "letter"])
@pytest.mark.parametrize("dpi", [203, 300])
@pytest.mark.parametrize("host", ["https://gear.example.org", "https://gear.of.a.long-named-crew.example.org:8443"])
def test_the_symbol_opens_the_join_page_at_both_printer_densities(world, settings, day_pass, client, medium, dpi, host):
    settings.PUBLIC_URL = host
    paper = issue(medium)
    page = pypdfium2.PdfDocument(papers.pdf_of(paper, form_of("day-sheet")))[0]
    raster = page.render(scale=dpi / 72, grayscale=True).to_numpy().squeeze()
    found = {one.text for one in zxingcpp.read_barcodes(raster, formats=zxingcpp.BarcodeFormat.QRCode)}
    address = f"{host}/join/7KXH-4PWA/"
    assert found == {address, f"{host}/P/{paper.pk}".upper()}
    assert client.get(address.removeprefix(host)).status_code in {200, 410}


def test_the_symbol_is_at_least_30_mm_without_its_quiet_zone(world, day_pass):
    modules, dots = labels.fitted("https://gear.example.org/join/7KXH-4PWA/", labels.SIZES["pass"])
    assert len(modules) * dots * labels.DOT >= 30


def test_the_code_stands_to_type_and_to_say(world, day_pass):
    words = text_of(issue())
    assert "7KXH-4PWA" in words
    assert passes.spoken("7KXH-4PWA") in words
    assert "Good from 14 Mar 2026 13:00 to 15 Mar 2026 13:00" in words


def test_times_vehicles_and_contacts_stand_on_one_page(world, day_pass, kit_manager, road_lead):
    road_lead.phone = "+44 1632 960155"
    road_lead.save()
    world.show.contact = "Stage door, +44 1632 960170"
    world.show.save()
    paper = issue()
    words = text_of(paper)
    for needed in ("show starts, Fjellmark Hall", "16 Mar 2026 13:00", "Teasel", "TSL 752", "Wes Tarn",
                   "Mill Yard to Fjellmark Hall", "Ana Rell", "+44 1632 960155", "Ida Penrake", "Stage door",
                   "+44 1632 960100", "BLUE Heron", "Hall B", "2 cases"):  # fmt: skip
        assert needed in words
    assert len(pypdfium2.PdfDocument(papers.pdf_of(paper, form_of("day-sheet")))) == 1


def test_the_named_lead_stands_alone(world, day_pass, kit_manager, road_lead):
    world.show.lead = road_lead
    world.show.save()
    contacts = draft("day-sheet", "FMC", "a4", AT).body.contacts
    assert [(one.words, one.name) for one in contacts if one.words == "road lead"] == [("road lead", "Ana Rell")]


def test_without_a_pass_the_sheet_says_how_to_get_one(world):
    words = text_of(issue())
    assert "No pass of this show is in force" in words


def test_neither_client_nor_values_stand_on_it_and_a_discreet_show_goes_by_its_code(world, day_pass):
    world.show.discreet = True
    world.show.save()
    words = text_of(issue())
    for secret in ("Fjellmark Masters Chess", "Glasswright", "21,000", "E9038F"):
        assert secret not in words


def test_a_sheet_whose_pass_has_run_out_or_was_ended_is_stale(world, day_pass):
    paper = issue()
    assert looked_at([paper], AT + timedelta(hours=23))[0].changed == ()
    assert looked_at([paper], AT + timedelta(hours=25))[0].changed
    passes.revoke(day_pass, by="Ida Penrake", at=AT)
    assert looked_at([paper], AT)[0].changed


def test_the_newest_pass_that_is_not_over_is_printed(world, day_pass):
    make_pass("FMC", code="AAAA-CCCC", made_at=AT + timedelta(hours=1), valid_until=AT + timedelta(hours=48))
    make_pass("SBR", code="EEEE-FFFF", made_at=AT + timedelta(hours=2), valid_until=AT + timedelta(hours=48))
    assert draft("day-sheet", "FMC", "a4", AT).body.day_pass.code == "AAAA-CCCC"
