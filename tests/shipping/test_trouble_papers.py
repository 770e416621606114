"""Fault tag, damage report, discrepancy report, ready card: what each says, and when it is stale."""

from __future__ import annotations

from datetime import timedelta

import pypdfium2
import pytest
from django.urls import reverse

from inventory import papers, signing, trials
from inventory.answers.readiness import readiness
from inventory.ledger import Fact, LedgerRefusal, record
from inventory.models import Entry, PlaceKind, Verb
from inventory.models.places import Purpose
from shipping.documents.forms import draft, form_of, looked_at
from shipping.models import Booking
from tests.factories import ANA, IDA, T0, make_item, make_place
from tests.shipping.papered import AT, World, make_fault, make_world
from tests.shipping.test_reconcile import Tour

HOUR = timedelta(hours=1)


@pytest.fixture
def world(db, settings) -> World:
    settings.PUBLIC_URL = "https://gear.example.org"
    settings.OWNER_NAME, settings.OWNER_PHONE = "Lanternfold Field Pictures", "+44 1632 960100"
    return make_world()


def body(kind: str, subject: str, at=AT):
    return draft(kind, subject, "", at).body


def text_of(kind: str, subject: str, at=AT) -> str:
    paper = papers.issue(draft(kind, subject, "", at), by="Ida Penrake", at=at)
    document = pypdfium2.PdfDocument(papers.pdf_of(paper, form_of(kind)))
    return " ".join(" ".join(page.get_textpage().get_text_range() for page in document).split())


def test_a_fault_tag_says_what_when_and_who_twice_for_the_stub(world):
    words = text_of("fault-tag", make_fault(world))
    for needed in ("FAULTY", "Do not use", "Third fader dead since the doors opened.", "14 Mar 2026 12:00", "Ana Rell"):
        assert needed in words
    assert words.count("FAULTY") == 2 and words.count(world.panel.code) == 2


def test_a_fault_tag_without_a_told_fault_is_for_the_pen_and_stale_once_one_is_told(world):
    paper = papers.issue(draft("fault-tag", world.panel.code, "", AT), by="Ida", at=AT)
    assert "Date, name: ____" in text_of("fault-tag", world.panel.code)
    make_fault(world)
    assert "what: nothing, now Third fader dead since the doors opened." in looked_at([paper], AT)[0].changed


def test_a_damage_report_says_where_in_the_job_and_in_the_teller_s_whole_words(world):
    long = "It hums and then it stops. " * 30
    record([Fact(Verb.FAULTED, world.panel, note=long, reference="FMC")], by=ANA, at=AT)
    told = body("damage-report", world.panel.code)
    (fault,) = told.faults
    assert " ".join(fault.words) == long.strip()
    assert (fault.by, fault.stage, fault.where) == ("Ana Rell", "before FMC", "HER-01")
    assert (told.serial, told.value, told.out_of_use) == ("OR-84E9038F", "21,000.00 GBP", "")
    shelf = make_place("Q", PlaceKind.SHELF, purpose=Purpose.QUARANTINE)
    record([Fact(Verb.QUARANTINED, world.panel, place=shelf, note="hums")], by=IDA, at=AT + HOUR)
    assert body("damage-report", world.panel.code, AT + HOUR).out_of_use == "14 Mar 2026 14:00, Ida Penrake"
    record([Fact(Verb.MENDED, world.panel, note="new fader")], by=IDA, at=AT + 2 * HOUR)
    assert body("damage-report", world.panel.code, AT + 2 * HOUR).faults == ()


def test_a_discrepancy_report_holds_seal_owed_things_and_words_for_the_delivery_note(db):
    tour = Tour()
    panel, cord = make_item(serial="OR-84E9038F", name="panel"), make_item(name="cord")
    tour.pack(panel, cord)
    tour.do([Fact(Verb.SEALED, tour.case, seal="004418")])
    tour.leave()
    tour.come_home()
    tour.do([Fact(Verb.RECEIVED, tour.case, place=tour.yard, seal="004481", reference="FMC")], by=IDA)
    tour.see(cord)
    tour.do([Fact(Verb.MISSED, panel, reference="FMC")], by=IDA)
    told = body("discrepancy-report", "FMC", tour.at)
    (look,) = told.seals
    assert (look.words, look.expected, look.found, look.by) == ("HER-07", "004418", "004481", "Ida Penrake")
    assert told.wording.startswith("Received 1 of 1 cases. HER-07: seal 004481 found, 004418 expected.")
    (line,) = told.lines
    assert line.serial == "OR-84E9038F" and line.expected == "in HER-07"
    assert line.actual.startswith("missed") and line.witness.endswith(tour.at.strftime("%H:%M"))
    assert "004481" in text_of("discrepancy-report", "FMC", tour.at)


def test_a_discrepancy_report_of_a_show_that_is_whole_says_so(db):
    tour = Tour()
    tour.leave()
    tour.come_home()
    words = text_of("discrepancy-report", "FMC", tour.at)
    assert "Nothing is owed by the book." in words and "Received 1 of 1 cases." in words


def test_a_ready_card_prints_the_verdict_signature_runs_and_goes_stale_with_the_verdict(world):
    system = world.frame_case.home_system
    Booking.objects.create(show=world.show, system=system, booked_at=T0, booked_by="Ida Penrake")
    trials.record(world.panel, hours="4 h", software="7.2.1", note="", by=ANA, at=AT)
    shown = readiness(system, world.show.ends_at.date(), AT)
    signing.sign(system, shown, words="goes with the second cord", by=IDA, at=AT)
    told = body("ready-card", system.slug)
    assert (told.answer, told.for_show, told.signed, told.signed_by) == ("NOT READY", "FMC", "NOT READY", "Ida Penrake")
    (ran,) = told.runs
    assert (ran.hours, ran.software) == ("4 h", "7.2.1") and "Ana Rell" in ran.by
    words = text_of("ready-card", system.slug)
    for needed in ("NOT READY", "7.2.1", "Against it:", "A prompt, not an approval"):
        assert needed in words
    paper = papers.issue(draft("ready-card", system.slug, "", AT), by="Ida", at=AT)
    assert looked_at([paper], AT)[0].changed == ()
    record([Fact(Verb.FAULTED, world.cord, note="cut")], by=ANA, at=AT)
    assert looked_at([paper], AT)[0].changed


def test_the_packing_list_names_software_as_somebody_saw_it_and_is_stale_once_it_is_another(world):
    paper = papers.issue(draft("packing-list", "FMC", "", AT), by="Ida", at=AT)
    trials.record(world.panel, hours="", software="7.2.1", note="", by=ANA, at=AT)
    assert "software 7.2.1 (14 Mar 2026, Ana Rell)" in text_of("packing-list", "FMC")
    (changed,) = looked_at([paper], AT)[0].changed
    assert changed.endswith("software: nothing, now 7.2.1 (14 Mar 2026, Ana Rell)")


def test_the_packing_list_names_the_show_file_and_leaves_a_line_for_the_pen(world):
    assert "Show file, where none stands above:" in text_of("packing-list", "FMC")
    paper = papers.issue(draft("packing-list", "FMC", "", AT), by="Ida", at=AT)
    trials.record(world.panel, hours="", software="", show_file="Masters v3", note="", by=ANA, at=AT)
    words = text_of("packing-list", "FMC")
    assert "show file Masters v3 (14 Mar 2026, Ana Rell)" in words
    assert any("show file: nothing, now Masters v3" in one for one in looked_at([paper], AT)[0].changed)


def test_a_test_run_is_kept_from_its_page_and_an_empty_one_is_refused(world, sign_in, crew):
    client = sign_in(crew)
    address = reverse("item-act", args=[world.panel.code, "test-run"])
    assert client.post(address, {"note": "looked fine"}).status_code == 422
    assert client.post(address, {"software": "7.2.1", "hours": "4 h", "show_file": "Masters v3"}).status_code == 302
    told = trials.newest([world.panel.pk], Entry.objects.latest("happened_at").happened_at)[world.panel.pk]
    assert (told.software.value, told.hours.value, told.show_file.value) == ("7.2.1", "4 h", "Masters v3")
    with pytest.raises(LedgerRefusal, match="Say how long it ran"):
        trials.record(world.panel, hours=" ", software="", note="x", by=ANA, at=T0)
