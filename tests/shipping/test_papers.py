"""Papers: frozen as issued, known when stale, and no paper says more than its reader may see."""

from __future__ import annotations

from datetime import timedelta

import pypdfium2
import pytest
from django.db import IntegrityError, connection
from django.template import Context, Template
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inventory import papers, pdf
from inventory.ledger import Fact, record
from inventory.models import IssuedPaper, Verb
from shipping.documents.forms import BUILDERS, NoSuchPaper, draft, form_of, looked_at
from shipping.models import Show
from tests.factories import IDA, make_case, make_device, make_item, make_pass
from tests.inventory.test_pdf import HOSTILE
from tests.shipping.papered import AT, World, make_world

EVERY = [(kind, medium) for kind, (form, _) in BUILDERS.items() for medium in form.media]


def test_every_medium_has_a_name_that_people_use():
    assert {medium for _, medium in EVERY} == set(papers.SIZES)
    assert papers.SIZES["100x150-black"] == "100 × 150 mm, black only"


@pytest.fixture
def world(db, settings) -> World:
    settings.PUBLIC_URL = "https://gear.example.org"
    settings.OWNER_NAME, settings.OWNER_PHONE = "Lanternfold Field Pictures", "+44 1632 960100"
    return make_world()


def issue(world: World, kind: str, medium: str = "", at=AT) -> IssuedPaper:
    return papers.issue(draft(kind, world.subject(kind), medium, at), by="Ida Penrake", at=at)


def issue_every(world: World) -> list[IssuedPaper]:
    """One of each kind, once all that they are about is there."""
    for kind in BUILDERS:
        world.subject(kind)
    return [issue(world, kind) for kind in BUILDERS]


def text_of(paper: IssuedPaper) -> str:
    document = pypdfium2.PdfDocument(papers.pdf_of(paper, form_of(paper.kind)))
    return " ".join(" ".join(page.get_textpage().get_text_range() for page in document).split())


def add_to_frame_case(world: World) -> None:
    extra = make_item(serial="KW-77", home_case=world.frame_case)
    record([Fact(Verb.PACKED, extra, place=world.frame_case.inside)], by=IDA, at=AT)


@pytest.mark.parametrize(("kind", "medium"), EVERY)
def test_every_paper_opens_in_every_medium_and_names_its_subject(world, kind, medium):
    paper = issue(world, kind, medium)
    words = text_of(paper)
    expected = {"show": "Fjellmark Masters Chess", "leg": "Teasel"}
    expected["case"] = "HER-04" if kind == "drive-card" else world.frame_case.labels.get().code
    expected |= {"set": "HERON-2", "wipe": "71B04K", "hand-over": "00SPARE", "request": "71B04K", "release": "71B04K"}
    expected |= {"border list": "GL-2207", "system": "Heron"}
    assert expected.get(form_of(kind).per, paper.subject) in words


def test_issuing_again_without_a_change_is_the_same_paper(world):
    assert issue(world, "case-list") == issue(world, "case-list", at=AT + timedelta(days=1))


def test_a_changed_paper_is_the_next_issue_and_says_what_it_replaces(world):
    first = issue(world, "case-list")
    add_to_frame_case(world)
    second = issue(world, "case-list", at=AT + timedelta(days=1))
    assert (second.number, second.replaces) == (2, first)
    assert "Replaces issue 1, 14 Mar 2026 13:00: throw that one away." in text_of(second)


def test_a_reprint_is_the_same_to_the_byte_after_the_world_changed(world, settings):
    paper = issue(world, "case-list")
    before = papers.pdf_of(paper, form_of(paper.kind))
    add_to_frame_case(world)
    settings.PUBLIC_URL = "https://elsewhere.example"
    again = IssuedPaper.objects.get(pk=paper.pk)
    assert papers.pdf_of(again, form_of(paper.kind)) == before


def test_a_signed_paper_is_its_bytes(world):
    paper = issue(world, "case-list")
    signed = IssuedPaper(kind=paper.kind, signed_bytes=b"%PDF-signed", data={})
    assert papers.pdf_of(signed, form_of(paper.kind)) == b"%PDF-signed"


def test_a_stale_paper_says_what_changed(world):
    paper = issue(world, "case-list")
    assert looked_at([paper], AT)[0].changed == ()
    add_to_frame_case(world)
    changed = looked_at([paper], AT)[0].changed
    assert "new: Kittiwade Pane 24" in changed
    assert "pieces: 2, now 3" in changed


def test_only_the_papers_that_say_it_go_stale(world):
    issued = issue_every(world)
    add_to_frame_case(world)
    stale = {one.paper.kind for one in looked_at(issued, AT) if one.changed}
    lists = {"case-list", "case-list-outside", "packing-list", "return-checklist", "border-list"}
    assert (
        stale == {"case-label", "truck-sheet", "manifest"} | lists
    )  # the border list names what is on the leg and on no line


def test_a_paper_does_not_go_stale_by_waiting(world):
    issued = issue_every(world)
    assert [one.changed for one in looked_at(issued, AT + timedelta(days=5))] == [()] * len(issued)


def test_a_label_made_for_a_show_that_is_over_is_stale(world):
    label = issue(world, "case-label")
    assert looked_at([label], AT + timedelta(days=7))[0].changed == ("was made for FMC, would now be for no show",)


def test_two_people_who_issue_at_once_get_two_numbers(world, monkeypatch):
    """The second saver finds its number taken, looks again and takes the next."""
    first = issue(world, "case-list")
    add_to_frame_case(world)
    answers = iter([None])
    real = papers.newest
    monkeypatch.setattr(papers, "newest", lambda made: next(answers, real(made)))
    assert issue(world, "case-list").number == first.number + 1


def test_one_number_is_one_issue_by_the_database(world):
    paper = issue(world, "case-list")
    with pytest.raises(IntegrityError):
        IssuedPaper.objects.create(
            kind=paper.kind, subject=paper.subject, medium=paper.medium, number=1, data={}, issued_at=AT, issued_by="x"
        )


def test_the_case_label_carries_what_a_dock_needs(world):
    words = text_of(issue(world, "case-label"))
    for needed in ("HER", "01", "BLUE", "Heron", "1 of 2", "Hall B", "42 kg / 92 lb", "FIRST OFF", "Seal no.",
                   "+44 1632 960100", "at most 80 kg on top", "fragile", "plan the lift", "Guide only"):  # fmt: skip
        assert needed in words


def test_a_drive_box_names_neither_show_nor_client_outside(world):
    case = make_case("HER-05", world.box.type, home_system=world.box.home_system)
    assert case.number
    for kind in ("case-label", "case-list-outside"):
        paper = papers.issue(draft(kind, "HER-04", "", AT), by="Ida", at=AT)
        words = text_of(paper)
        for secret in ("FMC", "Fjellmark", "Glasswright"):
            assert secret not in words


@pytest.mark.parametrize("discreet", [False, True])
def test_the_card_inside_a_drive_box_says_the_shows_code_and_no_name(world, discreet):
    Show.objects.update(discreet=discreet)
    words = text_of(papers.issue(draft("drive-card", "HER-04", "", AT), by="Ida", at=AT))
    assert ("FMC" in words, "Show:" in words) == (not discreet, True)
    for secret in ("Fjellmark", "Glasswright"):
        assert secret not in words


def test_the_card_of_a_box_that_goes_nowhere_leaves_a_line_for_the_show(world):
    make_case("HER-05", world.box.type, home_system=world.box.home_system)
    assert draft("drive-card", "HER-05", "", AT).body.show == ""


def test_the_outside_copy_has_no_serials_and_no_values(world):
    inside, outside = text_of(issue(world, "case-list")), text_of(issue(world, "case-list-outside"))
    for secret in ("E9038F", "21,000.00"):
        assert secret in inside
        assert secret not in outside
    assert "2 pieces" in outside


def test_the_drive_label_carries_bay_set_tail_and_a_removable_warning(world):
    words = text_of(issue(world, "drive-label"))
    for needed in ("HERON-2", "71B04K", "4 TB", "NOT RELEASED", "do not wipe"):
        assert needed in words
    assert words.startswith("A ")


def test_papers_never_call_anything_safe_or_compliant(world):
    for kind in BUILDERS:
        words = text_of(issue(world, kind)).lower()
        assert "compliant" not in words
        assert " safe" not in words


@pytest.mark.slow
@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_text_breaks_no_paper_and_opens_nothing(db, settings, monkeypatch, name):
    settings.OWNER_NAME = HOSTILE[name][:120]
    plain_pages = {}
    asked: list[str] = []
    real = pdf.OnlyOurOwn.fetch

    def watched(self, url, headers=None):
        asked.append(url)
        return real(self, url, headers)

    monkeypatch.setattr(pdf.OnlyOurOwn, "fetch", watched)
    world = make_world(HOSTILE[name].replace("\x00", "\x01"))
    for kind in BUILDERS:
        paper = issue(world, kind)
        document = pypdfium2.PdfDocument(papers.pdf_of(paper, form_of(kind)))
        plain_pages[kind] = len(document)
        assert "root:" not in document[0].get_textpage().get_text_range()
    assert {url for url in asked if not url.startswith("font:")} == set()
    assert max(plain_pages.values()) <= 4
    assert plain_pages["case-label"] == 2


def test_papers_are_offered_on_the_list_and_the_stale_ones_named(world, sign_in, kit_manager):
    client = sign_in(kit_manager)
    client.post(reverse("paper-issue", args=["case-list", "HER-01"]))
    assert b"CURRENT" in client.get(reverse("papers")).content
    add_to_frame_case(world)
    page = client.get(reverse("papers")).content.decode()
    assert "STALE" in page
    assert "new: Kittiwade Pane 24" in page


def test_issuing_opens_the_paper(world, sign_in, kit_manager):
    answer = sign_in(kit_manager).post(
        reverse("paper-issue", args=["case-label", "her-01"]), {"medium": "a4"}, follow=True
    )
    assert answer["Content-Type"] == "application/pdf"
    assert "case-label-her-01" in answer["Content-Disposition"]
    assert IssuedPaper.objects.get().issued_by == "Ida Penrake"


@pytest.mark.parametrize(
    ("kind", "subject", "data", "says"),
    [
        ("case-label", "HER-99", {}, "Nothing here has the code or number HER-99."),
        ("case-label", "HER-01", {"medium": "stone"}, "not on stone"),
        ("truck-sheet", "leg 999999", {}, "There is no leg called leg 999999."),
        ("packing-list", "XX", {}, "There is no show called XX."),
    ],
)
def test_what_cannot_be_printed_is_said_in_a_sentence(world, sign_in, kit_manager, kind, subject, data, says):
    answer = sign_in(kit_manager).post(reverse("paper-issue", args=[kind, subject]), data, follow=True)
    assert says in answer.content.decode()


def test_a_case_paper_of_something_that_holds_nothing_is_refused(world):
    with pytest.raises(NoSuchPaper, match="is no case"):
        draft("case-list", world.subject("item-label"), "", AT)


def test_who_may_print(world, sign_in, kit_manager, road_lead, crew, staff, client_person):
    paper = issue(world, "case-list")
    for person in (kit_manager, road_lead, crew, staff):
        assert sign_in(person).get(reverse("paper", args=[paper.pk])).status_code == 200
    for name, args in (("papers", []), ("paper", [paper.pk]), ("paper-code", [paper.pk])):
        assert sign_in(client_person).get(reverse(name, args=args)).status_code == 403
        assert sign_in(None).get(reverse(name, args=args)).status_code == 302
    issuing = reverse("paper-issue", args=["case-list", "HER-01"])
    assert sign_in(client_person).post(issuing).status_code == 403
    assert sign_in(None).post(issuing).status_code == 302
    assert sign_in(kit_manager).get(issuing).status_code == 405
    assert sign_in(kit_manager).get(reverse("paper", args=[999999])).status_code == 404
    assert sign_in(kit_manager).post(reverse("paper-issue", args=["carnet", "HER-01"])).status_code == 404


@pytest.fixture
def by_pass(sign_in):
    """A browser with a pass of the Fjellmark show, and the pass."""
    now = timezone.now()
    day_pass = make_pass("FMC", valid_from=now - timedelta(hours=1), valid_until=now + timedelta(hours=20))
    make_device(token="pim", day_pass=day_pass)
    client = sign_in(None)
    client.cookies["device"] = "pim"
    return client, day_pass


def test_a_pass_prints_its_own_show_s_papers_without_values_only(world, by_pass):
    client, _ = by_pass
    world.show.back_at = timezone.now() + timedelta(days=3)
    world.show.save()
    for kind, status in (("truck-sheet", 302), ("last-look", 302), ("case-label", 302), ("return-checklist", 403)):
        answer = client.post(reverse("paper-issue", args=[kind, world.subject(kind)]))
        assert (kind, answer.status_code) == (kind, status)
    assert client.get(reverse("paper", args=[issue(world, "case-list").pk])).status_code == 403
    assert client.get(reverse("paper", args=[issue(world, "truck-sheet").pk])).status_code == 200
    assert client.get(reverse("papers")).status_code == 302


def test_a_pass_of_another_show_or_one_revoked_prints_nothing(world, by_pass):
    client, day_pass = by_pass
    url = reverse("paper", args=[issue(world, "truck-sheet").pk])
    type(day_pass).objects.filter(pk=day_pass.pk).update(reference="CCA")
    assert client.get(url).status_code == 403
    type(day_pass).objects.filter(pk=day_pass.pk).update(reference="FMC", revoked_at=timezone.now())
    assert client.get(url).status_code == 403


def test_a_paper_s_code_says_whether_it_is_still_the_newest(world, sign_in, staff):
    first = issue(world, "case-list")
    page = reverse("paper-code", args=[first.pk])
    assert page == f"/P/{first.pk}"
    assert "it still says what is so" in sign_in(staff).get(page).content.decode()
    add_to_frame_case(world)
    assert "no longer says what is so" in sign_in(staff).get(page).content.decode()
    issue(world, "case-list")
    assert "was replaced by issue 2" in sign_in(staff).get(page).content.decode()


@pytest.mark.parametrize(
    ("what", "offers", "not_offered"),
    [
        ("frame_case", {"case-label", "case-list", "case-list-outside"}, {"drive-card", "item-label", "packing-list"}),
        ("box", {"case-label", "drive-card"}, {"item-label"}),
        ("drive", {"drive-label", "item-label"}, {"case-label", "cord-flag"}),
        ("cord", {"cord-flag"}, {"drive-label"}),
        ("show", {"packing-list", "return-checklist", "last-look", "day-sheet", "truck-sheet"}, {"case-label"}),
        ("leg", {"truck-sheet"}, {"packing-list"}),
    ],
)
def test_a_page_offers_the_papers_its_thing_can_have(world, what, offers, not_offered):
    subject = getattr(world, what)
    page = Template("{% load paperwork %}{% papers_of one %}").render(Context({"one": subject, "is_house": True}))
    for kind in offers:
        assert f"/paper/issue/{kind}/" in page
    for kind in not_offered:
        assert f"/paper/issue/{kind}/" not in page


def test_a_page_lists_the_papers_of_its_thing_with_the_stale_ones_named(world):
    issue(world, "case-list")
    add_to_frame_case(world)
    context = Context({"one": world.frame_case, "is_house": True})
    page = Template("{% load paperwork %}{% papers_of one %}").render(context)
    assert "STALE" in page
    assert "new: Kittiwade Pane 24" in page


def test_a_page_offers_a_client_no_papers(world):
    page = Template("{% load paperwork %}{% papers_of one %}").render(Context({"one": world.show, "is_house": False}))
    assert page.strip() == ""


def test_the_list_of_papers_costs_the_same_queries_whatever_its_length(world, sign_in, staff, monkeypatch):
    monkeypatch.setattr("shipping.views.papers.PER_PAGE", 100)  # every kind of paper, and all these, on one page
    client = sign_in(staff)
    issue_every(world)

    def cost() -> int:
        with CaptureQueriesContext(
            connection,
        ) as caught:
            assert client.get(reverse("papers")).status_code == 200
        return len(caught)

    def label(number: int) -> None:
        make_case(f"HER-1{number}", world.frame_case.type, home_system=world.frame_case.home_system)
        papers.issue(draft("case-label", f"HER-1{number}", "", AT), by="Ida", at=AT)

    label(1)
    before = cost()
    for number in range(2, 8):
        label(number)
    assert cost() == before
