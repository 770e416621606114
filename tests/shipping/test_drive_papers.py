"""Papers about drives: custody with its gaps, the asking and the word for a release, a wipe's record, a receipt."""

from __future__ import annotations

from datetime import timedelta
from uuid import UUID, uuid4

import pypdfium2
import pytest
from django.urls import reverse

from inventory import papers
from inventory.handling import hand_over as cases_handed_over
from inventory.hands import Handing, hand_over, receive
from inventory.ledger import Fact, record
from inventory.models import (
    Copy,
    CopySerial,
    IssuedPaper,
    Mandate,
    MandatePerson,
    Person,
    Release,
    ReleaseRequest,
    RequestAnswer,
    Verb,
    Wipe,
    Withdrawal,
)
from inventory.photos import keep
from shipping.documents.forms import draft, form_of, looked_at
from shipping.documents.sanitisation import WipedDrive
from tests.factories import ANA, IDA, T0, make_drive, make_place
from tests.inventory.test_photos import picture
from tests.shipping.papered import (
    AT,
    World,
    jo,
    make_handing,
    make_release,
    make_request,
    make_wipe,
    make_world,
)


@pytest.fixture
def world(db, settings) -> World:
    settings.PUBLIC_URL = "https://gear.example.org"
    return make_world()


def issue(kind: str, subject: str, at=AT) -> IssuedPaper:
    return papers.issue(draft(kind, subject, "", at), by="Ida Penrake", at=at)


def text_of(paper: IssuedPaper) -> str:
    document = pypdfium2.PdfDocument(papers.pdf_of(paper, form_of(paper.kind)))
    return " ".join(" ".join(page.get_textpage().get_text_range() for page in document).split())


def images_in(paper: IssuedPaper) -> int:
    document = pypdfium2.PdfDocument(papers.pdf_of(paper, form_of(paper.kind)))
    return sum(
        one.type == pypdfium2.raw.FPDF_PAGEOBJ_IMAGE for page in document for one in page.get_objects(max_depth=9)
    )


def give(world: World, person: Person, at, giver: Person | None = None, **how) -> None:
    hand_over([world.drive], person, Handing(**how), by=IDA, at=at, giver=giver)


def test_a_custody_sheet_has_a_row_for_each_change_of_hands_in_order(world, road_lead):
    give(world, road_lead, T0 + timedelta(minutes=1), purpose="to the truck", condition="good", seal="004411")
    give(world, jo(world), T0 + timedelta(minutes=5), giver=road_lead, due_at=AT)
    body = draft("custody-sheet", "heron-2", "", AT).body
    told = [(one.giver, one.receiver) for one in body.transfers if one.method.startswith("handed over")]
    assert told[-1] == ("Ana Rell", "Jo Marlow")
    assert told[-2][1] == "Ana Rell"
    assert body.gaps == 0
    words = text_of(issue("custody-sheet", "heron-2"))
    for needed in ("to the truck", "004411", "good", "Jo Marlow", "PM-0071B04K", "4 TB", "14 Mar 2026 13:00"):
        assert needed in words


def test_a_break_in_the_chain_prints_as_a_gap_line(world, road_lead, crew):
    give(world, road_lead, T0 + timedelta(minutes=1))
    give(world, jo(world), T0 + timedelta(minutes=5), giver=crew)
    body = draft("custody-sheet", "heron-2", "", AT).body
    assert body.gaps == 1
    broken = [one for one in body.transfers if one.gap and one.gap != "no receipt"]
    assert broken[0].receiver == "Jo Marlow"
    assert f"GAP: {broken[0].gap}" in text_of(issue("custody-sheet", "heron-2"))
    assert "1 GAP in the chain" in text_of(issue("custody-sheet", "heron-2"))


def test_a_swapped_out_drive_stands_on_the_sheet_with_when_and_why(world):
    told = {"drive_set": world.drive.home_set, "reference": "FMC"}
    record([Fact(Verb.RECORDING, **told)], by=IDA, at=T0 + timedelta(minutes=1))
    record([Fact(Verb.STOPPED, **told)], by=IDA, at=T0 + timedelta(minutes=20))
    swap = Fact(Verb.DROPPED, world.drive, drive_set=world.drive.home_set, note="dropped frames")
    record([swap], by=IDA, at=T0 + timedelta(minutes=30))
    body = draft("custody-sheet", "heron-2", "", AT).body
    assert [(one.bay, one.serial) for one in body.members] == [("left", "PM-0071B04K")]
    assert body.swaps[-1].why == "dropped frames"
    assert [(one.reference, one.start, one.end) for one in body.recorded] == [
        ("FMC", "14 Mar 2026 12:01", "14 Mar 2026 12:20")
    ]


def test_a_custody_sheet_lists_health_releases_holds_and_the_wipe(world):
    make_release(world)
    make_wipe(world)
    record([Fact(Verb.CHECKED, world.drive, rule="health", value="good")], by=IDA, at=T0)
    body = draft("custody-sheet", "heron-2", "", AT).body
    assert body.members[0].health == "good, 14 Mar 2026 12:00"
    assert "letter of the 14th" in body.releases[0].words
    assert "begun 14 Mar 2026 12:00 by Wes Tarn" in body.wipes[0].words


def test_a_custody_sheet_goes_stale_when_the_drives_change_hands(world, road_lead):
    paper = issue("custody-sheet", "heron-2")
    assert looked_at([paper], AT)[0].changed == ()
    give(world, road_lead, AT)
    assert looked_at([paper], AT)[0].changed


def test_a_request_names_exact_serials_the_person_and_leaves_room_for_the_answer(world):
    subject = make_request(world)
    words = text_of(issue("release-request", subject))
    for needed in ("Jo Marlow", "Glasswright Trust", "producer of the show", "PM-0071B04K", "HERON-2 A",
                   "may be erased", "exactly these serials", "Please release", "Signature"):  # fmt: skip
        assert needed in words
    asked = ReleaseRequest.objects.get()
    RequestAnswer.objects.create(request=asked, word="later", words="after the edit", entered_by="Ida", entered_at=T0)
    assert "not yet: after the edit" in text_of(issue("release-request", subject))


def test_a_release_note_carries_all_that_makes_it_valid(world):
    words = text_of(issue("release-note", make_release(world)))
    for needed in ("FMC", "HERON-2", "PM-0071B04K", "may be erased", "Jo Marlow", "Glasswright Trust",
                   "producer of the show", "14 Mar 2026 12:00", "letter of the 14th", "Ida Penrake"):  # fmt: skip
        assert needed in words
    assert "WITHDRAWN" not in words


def test_a_release_by_somebody_without_authority_says_so(world):
    subject = make_release(world)
    Release.objects.get()
    odd = Person.objects.create(name="Odd Varley")
    row = Release.objects.create(
        reference="FMC", person=odd, evidence="said on the pontoon", date=T0, entered_by="Ana", entered_at=T0
    )
    assert MandatePerson.objects.filter(person=odd).count() == 0
    assert "nothing in the book says that they may" in text_of(issue("release-note", f"release {row.pk}"))
    assert "nothing in the book" not in text_of(issue("release-note", subject))


def test_a_release_that_frees_nothing_says_so_above_its_words(world):
    """By the agreements of its own day: one that came later heals nothing, one that ended later breaks nothing."""
    good = make_release(world)
    assert "UNSURE" not in text_of(issue("release-note", good))
    odd = Person.objects.create(name="Odd Varley")
    given = {"reference": "FMC", "person": odd, "evidence": "said on the pontoon", "entered_by": "Ana"}
    row = Release.objects.create(date=T0, entered_at=T0, **given)
    later = Mandate.objects.create(
        reference="FMC", content_owner=world.show.client, in_force_from=AT, entered_by="Ida", entered_at=AT
    )
    MandatePerson.objects.create(mandate=later, person=odd, why="new producer")
    words = text_of(issue("release-note", f"release {row.pk}"))
    assert "UNSURE RELEASE. Nothing in the book said on that day that Odd Varley may release FMC." in words
    assert words.index("UNSURE") < words.index("may be erased")
    assert "UNSURE" not in text_of(issue("release-note", good)), "whose agreement ended later"
    named = Release.objects.create(date=AT, entered_at=AT, drive_set=world.drive.home_set, **given)
    assert "It names no serial." in text_of(issue("release-note", f"release {named.pk}"))


def test_papers_of_content_do_not_speak_of_lifting(world):
    for kind in sorted(FIELDS):
        words = text_of(issue(kind, world.subject(kind)))
        assert "not an approval" in words and "Lifting" not in words


def test_what_several_drives_did_alike_is_one_line_of_the_custody_sheet(world):
    other = make_drive("PM-0071B05L", home_set=world.drive.home_set)
    told = {"drive_set": world.drive.home_set, "reference": "FMC"}
    record([Fact(Verb.JOINED, other, drive_set=told["drive_set"], bay="B")], by=IDA, at=T0)
    record([Fact(Verb.RECORDING, **told)], by=IDA, at=T0 + timedelta(minutes=1))
    record([Fact(Verb.STOPPED, **told)], by=IDA, at=T0 + timedelta(minutes=20))
    how = {"method": "purge", "technique": "block erase", "entered_by": "Wes Tarn", "entered_at": AT}
    for drive in (world.drive, other):
        Wipe.objects.create(job=uuid4(), drive=drive, step="begun", **how)
    body = draft("custody-sheet", "heron-2", "", AT).body
    both = "PM-0071B04K, PM-0071B05L"
    assert [(one.serial, one.start) for one in body.recorded] == [(both, "14 Mar 2026 12:01")]
    assert len(body.wipes) == 1 and body.wipes[0].words.startswith(both) and "Jobs " in body.wipes[0].words


def test_a_withdrawn_release_is_stale_and_prints_as_withdrawn(world):
    subject = make_release(world)
    paper = issue("release-note", subject)
    row = Release.objects.get()
    Withdrawal.objects.create(release=row, why="wrong show", entered_by="Jo Marlow", entered_at=T0)
    assert looked_at([paper], AT)[0].changed
    assert "WITHDRAWN" in text_of(issue("release-note", subject))


# What each paper must have, by the fields people of the trade use (common practice) and, for custody, NIST's sample
# chain-of-custody form (from memory): every field as the paper words it.
FIELDS = {
    "custody-sheet": [
        "HERON-2", "may it be wiped?", "bay", "sled tag", "serial", "maker and model", "capacity", "health",
        "when", "where", "from", "to", "how, why", "seal out / in", "condition", "due back", "signature",
        "Recorded", "drive", "show",
        "Joined and swapped", "copies", "release", "hold", "wipe", "Corrected by hand",
    ],
    "release-request": [
        "To", "who may release", "Asked by", "serial", "our code", "maker and model", "set and bay, also earlier ones",
        "Your answer", "may be erased", "Name", "For (organisation)", "Signature", "Date and time", "Came by",
    ],
    "release-note": [
        "Show", "serial", "our code", "maker and model", "set and bay, also earlier ones", "may be erased",
        "Released by", "Authority", "Date", "How it was received", "Entered by", "exactly these serials",
        "no drive added later",
    ],
    "sanitisation-record": [
        "manufacturer, model", "serial", "property no.", "media type, source", "content before; backed up", "method",
        "technique; tool, version", "verification", "after", "destination", "outcome", "Release:", "name", "title",
        "organisation", "date and time", "location", "phone", "signature", "not a guarantee", "NIST SP 800-88",
    ],
    "receipt": [
        "From", "To", "When", "Where", "For", "Due back", "Condition", "Seal", "piece", "what", "serial", "our code",
        "qty", "Liability as agreed", "Signed:", "Receiver, signature", "Kind of ID shown", "Date and time",
    ],
}  # fmt: skip


@pytest.mark.parametrize("kind", sorted(FIELDS))
@pytest.mark.parametrize("medium", ["a4", "letter"])
def test_every_field_of_the_trade_stands_on_the_paper(world, kind, medium):
    make_release(world)
    paper = papers.issue(draft(kind, world.subject(kind), medium, AT), by="Ida Penrake", at=AT)
    words = text_of(paper)
    assert [one for one in FIELDS[kind] if one not in words] == []


def test_a_custody_sheet_says_where_each_change_of_hands_was_and_which_seal_went_out_and_came_in(world, road_lead):
    give(world, road_lead, T0 + timedelta(minutes=1), seal="004411")
    mill = make_place()
    receive([world.drive], mill, road_lead, Handing(seal="004411"), by=IDA, at=T0 + timedelta(minutes=9))
    body = draft("custody-sheet", "heron-2", "", AT).body
    assert [(one.seal, one.place) for one in body.transfers][-2:] == [
        ("out 004411", "HER-04"),
        ("in 004411", "Mill Yard"),
    ]
    assert body.members[0].model == str(world.drive.type)


def test_a_copy_on_the_custody_sheet_says_where_medium_made_and_verified_how_when_by_whom(world):
    row = Copy.objects.create(
        reference="FMC", made_at=T0, medium="tape", place=make_place("Carrowmere archive", "room"), verified_at=AT,
        verified_by="Tomas Quill", verified_how="checksums compared", entered_by="Ida", entered_at=T0,
    )  # fmt: skip
    CopySerial.objects.create(copy=row, drive=world.drive)
    words = draft("custody-sheet", "heron-2", "", AT).body.copies[0].words
    for needed in ("FMC on tape", "made 14 Mar 2026 12:00", "Carrowmere archive", "verified by Tomas Quill",
                   "14 Mar 2026 13:00", "checksums compared", "PM-0071B04K"):  # fmt: skip
        assert needed in words


# NIST SP 800-88 Rev. 1, section 4.8 and appendix G: the fields of the sample certificate, from memory.
SAMPLE = {
    "manufacturer", "model", "serial", "property_number", "media_type", "source", "classification_before", "backed_up",
    "method_type", "method_used", "tool_and_version", "verification", "classification_after", "destination", "notes",
}  # fmt: skip


def test_the_record_has_every_field_of_the_sample_certificate():
    assert set(WipedDrive.__dataclass_fields__) >= SAMPLE


def test_a_wipe_that_nobody_verified_does_not_look_finished(world):
    words = text_of(issue("sanitisation-record", make_wipe(world)))
    for needed in ("NOT A FINISHED WIPE", "PM-0071B04K", "Pomandre", "purge", "block erase", "sanitize 2.1", "Wes Tarn",
                   "not a guarantee against recovery"):  # fmt: skip
        assert needed in words


def test_a_verified_wipe_names_who_did_it_and_the_second_person(world, kit_manager):
    job = make_wipe(world)
    begun = Wipe.objects.get()
    paper = issue("sanitisation-record", job)
    Wipe.objects.create(
        job=begun.job, drive=world.drive, step="verified", method="purge", technique=begun.technique, tool=begun.tool,
        verification="full read back", entered_by="Ida Penrake", entered_at=AT,
    )  # fmt: skip
    assert looked_at([paper], AT)[0].changed
    words = text_of(issue("sanitisation-record", job))
    assert "NOT A FINISHED WIPE" not in words
    for needed in ("verified by", "Ida Penrake", "kit manager", "full read back", "sanitised by", "Wes Tarn"):
        assert needed in words


def test_a_record_of_a_set_has_a_line_a_drive_and_says_which_one_failed(world):
    job, other = uuid4(), make_drive("PM-00711111")
    how = {"job": job, "method": "purge", "technique": "block erase", "entered_by": "Wes Tarn", "entered_at": T0}
    for drive in (world.drive, other):
        Wipe.objects.create(drive=drive, step="begun", **how)
    Wipe.objects.create(drive=other, step="failed", verification="read error", **how)
    body = draft("sanitisation-record", str(job), "", AT).body
    assert {line.serial: line.outcome for line in body.lines} == {"PM-0071B04K": "begun", "PM-00711111": "failed"}
    words = text_of(issue("sanitisation-record", str(job)))
    assert "failed: read error" in words
    assert "NOT A FINISHED WIPE" in words


@pytest.mark.parametrize("medium", ["a4", "letter", "100x150"])
def test_a_receipt_says_what_changed_hands_from_whom_to_whom_until_when(world, medium):
    act = make_handing(world)
    paper = papers.issue(draft("receipt", act, medium, AT), by="Ida Penrake", at=AT)
    words = text_of(paper)
    for needed in ("Ida Penrake", "Jo Marlow, Glasswright Trust", "PM-00SPARE", "dailies", "17 Mar 2026 13:00", "good",
                   "004411", "Signed: Jo Marlow", "Kind of ID shown", "Liability as agreed"):  # fmt: skip
        assert needed in words


def test_the_signature_that_was_drawn_stands_on_the_receipt_and_on_the_custody_sheet(world):
    drawn = keep(picture(), by="Jo Marlow", at=T0)
    how = Handing(signed_by="Jo Marlow", drawn=drawn, purpose="dailies")
    act = str(hand_over([world.drive], jo(world), how, by=IDA, at=T0 + timedelta(minutes=1))[0].act)
    assert images_in(issue("receipt", act)) == 1
    assert images_in(issue("custody-sheet", "heron-2")) == 1


def test_a_receipt_names_firm_and_number_of_the_giver_the_place_and_the_list_and_shows_the_photo(world, road_lead):
    record([Fact(Verb.PLACED, world.drive, place=make_place())], by=IDA, at=T0)
    shown = keep(picture(), by="Ana Rell", at=T0)
    how = Handing(photo=shown, condition="good")
    act = hand_over([world.drive], jo(world), how, by=ANA, at=T0 + timedelta(minutes=1), giver=road_lead)[0].act
    body = draft("receipt", str(act), "", AT).body
    assert body.giver == "Ana Rell, Lanternfold Field Pictures" and body.place == "Mill Yard"
    assert body.lists == ("custody sheet of HERON-2",) and body.cases == 0
    assert images_in(issue("receipt", str(act))) == 1
    assert "As on: custody sheet of HERON-2." in text_of(issue("receipt", str(act)))


def test_a_receipt_for_a_case_counts_cases_and_names_its_list(world, road_lead):
    act = cases_handed_over([world.box], road_lead, by=IDA, at=T0 + timedelta(minutes=1))[0].act
    body = draft("receipt", str(act), "", AT).body
    assert body.cases == 1 and body.lists == ("case list of HER-04",)
    assert "1 piece, 1 case" in text_of(issue("receipt", str(act)))


def test_a_receipt_whose_act_was_taken_back_is_stale(world):
    act = make_handing(world)
    paper = issue("receipt", act)
    record([Fact(Verb.CORRECTED, None, corrects=act)], by=IDA, at=AT)
    assert any("taken back" in line for line in looked_at([paper], AT)[0].changed)


NO_JOB = UUID(int=7)


@pytest.mark.parametrize(
    ("kind", "subject", "says"),
    [("custody-sheet", "no-such-set", "There is no set called no-such-set."), ("receipt", "x", "There is no hand-over"),
     ("sanitisation-record", str(NO_JOB), "There is no wipe called"), ("release-note", "release 9", "There is no")],
)  # fmt: skip
def test_a_paper_about_nothing_is_refused_in_a_sentence(world, sign_in, kit_manager, kind, subject, says):
    answer = sign_in(kit_manager).post(reverse("paper-issue", args=[kind, subject]), follow=True)
    assert says in answer.content.decode()


def test_nobody_but_the_house_prints_them(world, sign_in, client_person, crew):
    for kind, subject in (("custody-sheet", "heron-2"), ("release-note", make_release(world))):
        address = reverse("paper-issue", args=[kind, subject])
        assert sign_in(client_person).post(address).status_code == 403
        assert sign_in(crew).post(address).status_code == 302


def test_the_set_page_offers_the_sheet_and_a_receipt_for_each_hand_over(world, sign_in, kit_manager, road_lead):
    give(world, road_lead, T0 + timedelta(minutes=1))
    make_place()
    record([Fact(Verb.SEEN, world.drive)], by=ANA, at=AT)
    page = sign_in(kit_manager).get(reverse("drive-set", args=["heron-2"])).content.decode()
    assert "/paper/issue/custody-sheet/heron-2/" in page
    assert page.count("/paper/issue/receipt/") == 1
