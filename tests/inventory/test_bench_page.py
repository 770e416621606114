"""The wipe bench, as two tired people use it; and the record it leaves, in the fields of NIST's sample.

Source of the fields: NIST SP 800-88 Rev. 1, section 4.8 and appendix G (from memory; Rev. 2 of September 2025 keeps
clear, purge and destroy).
"""

from __future__ import annotations

from dataclasses import fields

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.answers.sanitising import Hand, SanitisationLine, sanitisation_record
from inventory.models import Release, Wipe
from tests.inventory.test_wipe_table import RELEASED

pytestmark = pytest.mark.django_db
PURGE = {
    "method": "purge",
    "technique": "sanitize block erase",
    "tool": "bench 4.2",
    "destination": "kept for our own use",
}


def text(response) -> str:
    return response.content.decode()


def begun(client, scanned: str, **more):
    return client.post("/bench/begin/", {"drives": scanned, **PURGE, **more})


def test_an_empty_bench_says_what_to_do(told, staff, sign_in):
    told("1 blank A")
    page = text(sign_in(staff).get("/bench/"))
    assert "Scan every drive" in page and "Nothing was wiped by the book yet" in page


def test_each_scanned_drive_is_told_its_answer_and_a_stranger_is_named(told, road_lead, sign_in):
    told(RELEASED + "13 new C")
    client = sign_in(road_lead)
    page = text(client.get("/bench/", {"drives": "71B0AK\n71B0CK"}))
    assert "1 of 2 may be wiped; nothing begins yet" in page and "Released by Jo" in page and "NOT KNOWN" in page
    assert "Begin with these" not in page
    wrong = client.get("/bench/", {"drives": "no-such-drive"})
    assert wrong.status_code == 422 and "is no code or serial in the book" in text(wrong)


def test_a_drive_that_is_not_on_the_release_in_hand_is_refused_though_the_book_says_yes(told, road_lead, sign_in):
    told(RELEASED + "13 blank D")
    client, row = sign_in(road_lead), Release.objects.get().pk
    page = text(client.get("/bench/", {"drives": "71B0AK\n71B0DK", "release": row}))
    assert "NOT ON THE RELEASE" in page
    refused = begun(client, "71B0DK", release=row)
    assert refused.status_code == 422 and "is not among the serials" in text(refused)
    assert begun(client, "71B0AK", release=row).status_code == 302
    assert list(Wipe.objects.values_list("drive__serial", flat=True)) == ["71B0AK"]


def test_a_whole_set_begins_only_when_all_of_it_was_scanned(told, road_lead, sign_in):
    history = told("1 blank AB\n1 join AB")
    client, one = sign_in(road_lead), history.sets["HERON-1"].pk
    page = text(client.get("/bench/", {"drives": "71B0AK", "drive_set": one}))
    assert "1 that should be here was not scanned" in page and "71B0BK was not scanned" in page
    assert begun(client, "71B0AK", drive_set=one).status_code == 422
    assert begun(client, "71B0AK\n71B0BK", drive_set=one).status_code == 302


def test_begun_by_one_verified_by_another_and_recorded_field_by_field(told, road_lead, kit_manager, sign_in):
    told(RELEASED)
    ana, ida = sign_in(road_lead), sign_in(kit_manager)
    at = begun(ana, "71B0AK", place_words="bench W").url
    drive = Wipe.objects.get().drive_id
    own = ana.post(at + "verify/", {"drives": drive, "check": "all of it read back"})
    assert own.status_code == 422 and "A second person must verify it" in text(own)
    # Ida entered no release in this story, so she may verify what Ana began.
    ida.post(at + "verify/", {"drives": drive, "check": "a sample read back", "words": "10 %"})
    (line,) = sanitisation_record(Wipe.objects.first().job).lines
    assert (line.manufacturer, line.model, line.serial) == ("Pomandre", "Ingot 4T", "71B0AK")
    assert (line.method_type, line.method_used, line.tool_and_version) == ("purge", "sanitize block erase", "bench 4.2")
    assert line.verification == "a sample read back: 10 %" and line.destination == "kept for our own use"
    assert (line.sanitizer.name, line.validator.name) == ("Ana Rell", "Ida Penrake")
    assert line.sanitizer.location == "bench W" and line.validator.title == "kit manager"
    assert line.classification_before == "client's content: FMC" and line.backed_up.startswith("yes: 2")
    assert line.source == "HERON-1" and "FMC, by Jo" in line.releases[0]
    page = text(ida.get(at))
    assert "1 wiped and verified" in page and "not a guarantee against recovery" in page


def test_the_record_has_every_field_of_the_sample():
    asked = {
        "manufacturer", "model", "serial", "property_number", "media_type", "source", "classification_before",
        "backed_up",
        "method_type", "method_used", "tool_and_version", "verification", "classification_after", "destination",
        "notes", "sanitizer", "validator",
    }  # fmt: skip
    assert asked <= {one.name for one in fields(SanitisationLine)}
    assert {one.name for one in fields(Hand)} >= {"name", "title", "organization", "date", "location", "phone"}


def test_stop_keeps_exactly_which_serials_had_begun_and_whom_to_tell(told, road_lead, kit_manager, sign_in):
    told(RELEASED + "13 blank B")
    client = sign_in(road_lead)
    at = begun(client, "71B0AK\n71B0BK").url
    drives = dict(Wipe.objects.values_list("drive__serial", "drive"))
    sign_in(kit_manager).post(at + "verify/", {"drives": drives["71B0BK"], "check": "all of it read back"})
    page = text(client.post(at + "stop/", {"words": "wrong set on the bench"}, follow=True))
    assert "These had begun, and count as neither blank nor whole: 71B0AK." in page
    assert "Tell at once whose content it was: <strong>Jo</strong>" in page
    assert list(Wipe.objects.filter(step="stopped").values_list("drive__serial", flat=True)) == ["71B0AK"]
    assert "Nothing of this wipe is under way" in text(client.post(at + "stop/", {"words": "again"}, follow=True))


def test_what_is_true_of_several_other_drives_is_said_once_and_each_wipe_says_how_it_ended(told, road_lead, sign_in):
    told("1 blank ABC\n2 join ABC\n3 record HERON-1 FMC\n5 stop HERON-1\n6 put BC Quay\n7 blank D\n"
         "8 wipe D begun Ana\n9 wipe D failed Ana")  # fmt: skip
    page = text(sign_in(road_lead).get("/bench/", {"drives": "71B0AK"}))
    assert "Each of drive 71B0BK, drive 71B0CK holds the same recording of FMC" in page
    assert page.count("Bring the drives together") == 1
    listed = page[page.index("Wipes, those under way first") :]
    assert "failed" in listed and "71B0DK" in listed and "under way</span>" not in listed


def test_a_failed_verification_is_not_blank(told, road_lead, sign_in):
    history = told(RELEASED)
    client = sign_in(road_lead)
    at = begun(client, "71B0AK").url
    history.clock.shift(60)
    client.post(at + "fail/", {"drives": Wipe.objects.get().drive_id, "words": "read back: not empty"})
    history.clock.shift(60)
    page = text(client.get("/bench/", {"drives": "71B0AK"}))
    assert "0 of 1 may be wiped" in page and "its wipe failed" in page and "It may be destroyed" in page


def test_the_bench_costs_the_same_for_many(told, road_lead, sign_in):
    told("1 blank ABCDEF\n1 join ABCDEF")
    client = sign_in(road_lead)

    def cost(scanned: str) -> int:
        with CaptureQueriesContext(connection) as seen:
            assert client.get("/bench/", {"drives": scanned}).status_code == 200
        return len(seen)

    def spread(letters: str) -> str:
        return "\n".join(f"71B0{one}K" for one in letters)

    each = cost(spread("AB")) - cost(spread("A"))
    begun(client, spread("A"))
    assert cost(spread("BCDEF")) - cost(spread("BCDE")) <= each, "no more for the sixth than for the second"


def test_no_such_wipe_and_no_such_step(told, road_lead, sign_in):
    told("1 blank A")
    client = sign_in(road_lead)
    at = begun(client, "71B0AK").url
    assert client.get("/bench/017f22e2-79b0-7cc3-98c4-dc0c0c07398f/").status_code == 404
    assert client.post(at + "bless/", {}).status_code == 404
