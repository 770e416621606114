"""The pages of drive sets: the verdict first, what each role sees and may do, and every act through its form."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inventory.answers.wiping import wipe_answer
from inventory.models import (
    Acceptance,
    ClientReference,
    Copy,
    Entry,
    Hold,
    HoldLift,
    Mandate,
    MandatePerson,
    Person,
    Release,
    Verb,
    Wipe,
    Withdrawal,
)
from inventory.views.drive_acts import ACTS
from tests.factories import make_set
from tests.inventory.histories import History
from tests.inventory.test_wipe_table import COPIED, RELEASED, SHOW

pytestmark = pytest.mark.django_db
SET = "/set/heron-1/"


def text(response) -> str:
    return response.content.decode()


def answer(history: History, letter: str):
    return wipe_answer(history.drives[letter], timezone.now())


def do(client, key: str, *, slug: str = "heron-1", **data):
    return client.post(f"/set/{slug}/{key}/", data)


def done(client, key: str, **data) -> str:
    """Do it, see that it went back to the set, and read the page."""
    response = do(client, key, **data)
    assert response.status_code == 302, text(response)
    assert response.url == SET
    return text(client.get(SET))


def test_the_verdict_comes_first_and_alike_reasons_are_said_once(told, kit_manager, sign_in):
    told("1 blank AB\n2 join AB\n3 record HERON-1 FMC\n5 stop HERON-1")
    said = text(sign_in(kit_manager).get(SET))
    assert "HERON-1 may not be wiped: 2 of 2 drives stand in the way, bays A, B." in said
    assert said.count("nobody has released that") == 1 + 2  # once for the set, once under each drive
    assert "<strong>Bays A, B:</strong>" in said
    assert said.index("May we wipe it?") < said.index("bay-map") < said.index("Drive by drive")


def test_what_is_true_of_several_other_drives_is_said_once(told, kit_manager, sign_in):
    told("1 blank ABC\n2 join ABC\n3 record HERON-1 FMC\n5 stop HERON-1\n6 put BC Quay")
    said = text(sign_in(kit_manager).get(SET))
    assert "<strong>Bay A:</strong> Each of drive 71B0BK, drive 71B0CK holds the same recording of FMC" in said
    assert "<strong>Bays B, C:</strong> Drive 71B0AK holds the same recording of FMC" in said


def test_a_released_set_says_yes_and_by_whom(told, staff, sign_in):
    told(RELEASED)
    said = text(sign_in(staff).get(SET))
    assert "The one drive of HERON-1 may be wiped." in said and "was released by Jo" in said
    assert "What you may do" not in said


def test_only_what_can_be_done_is_offered(told, kit_manager, sign_in):
    history = told("1 blank A\n2 join A")
    client = sign_in(kit_manager)
    said = text(client.get(SET))
    assert "Begin a wipe" in said and "Swap a drive" in said
    for title in ("Lift a hold", "Verify a wipe", "Accept doubts", "Name a recording", "Withdraw a release"):
        assert title not in said
    history.tell("3 record HERON-1\n4 stop HERON-1\n5 hold A")
    history.clock.move_to(history.now + timedelta(hours=1))
    said = text(client.get(SET))
    assert "Lift a hold" in said and "Name a recording" in said


def test_an_empty_set_says_that_nobody_can_say_and_what_to_do(told, kit_manager, sign_in):
    told("1 new A")
    said = text(sign_in(kit_manager).get(SET))
    assert "No drive of HERON-1 is known, so nobody can say." in said
    assert (
        "A road lead or a kit manager says which drives joined it" in said and "No drive has joined this set." in said
    )


def test_a_drive_swapped_out_is_still_shown_with_the_first_half(told, kit_manager, sign_in):
    told("1 blank AB\n2 join A\n3 record HERON-1 FMC\n5 drop A\n5 join B\n7 stop HERON-1")
    assert "<code>71B0AK</code>, no longer in the set" in text(sign_in(kit_manager).get(SET))


def test_the_list_answers_for_every_set_and_costs_the_same_for_many(told, staff, sign_in):
    history = told(COPIED + "11 blank B\n11 join B CURLEW-1\n12 record CURLEW-1 CCA\n13 stop CURLEW-1")
    client = sign_in(staff)
    said = text(client.get(reverse("drive-sets")))
    assert "HERON-1" in said and "CURLEW-1" in said and "It holds CCA and nobody has released that." in said
    with CaptureQueriesContext(connection) as before:
        client.get(reverse("drive-sets"))
    for number, letter in enumerate("CDEFG", start=1):
        history.sets[f"WREN-{number}"] = make_set(f"WREN-{number}")
        history.tell(f"20 blank {letter}\n21 join {letter} WREN-{number}\n22 record WREN-{number} CCA\n23 stop")
    history.clock.move_to(history.now + timedelta(hours=1))
    with CaptureQueriesContext(connection) as after:
        assert "WREN-5" in text(client.get(reverse("drive-sets")))
    assert len(after) == len(before) > 5


def test_the_page_of_a_set_costs_the_same_for_many_drives(told, kit_manager, sign_in):
    history = told("1 blank AB\n2 join AB\n3 record HERON-1 FMC\n5 stop HERON-1\n6 copies FMC AB\n7 hold A")
    client = sign_in(kit_manager)
    with CaptureQueriesContext(connection) as before:
        client.get(SET)
    history.tell("10 blank CDEF\n11 join CDEF\n12 record HERON-1 FMC\n15 stop HERON-1\n16 copies FMC CDEF\n17 hold B")
    history.clock.move_to(history.now + timedelta(hours=1))
    with CaptureQueriesContext(connection) as after:
        client.get(SET)
    assert len(after) == len(before) > 5


def test_a_stranger_signs_in_first_and_a_set_that_is_not_there_is_404(told, kit_manager, sign_in):
    told(SHOW)
    for address in (SET, "/sets/", f"{SET}record/"):
        assert sign_in(None).get(address).status_code == 302
    client = sign_in(kit_manager)
    assert client.get("/set/heron-9/").status_code == 404
    assert client.get(f"{SET}paint/").status_code == 404
    assert client.post(SET).status_code == 405
    assert client.delete(f"{SET}record/").status_code == 405


@pytest.mark.parametrize("key", ACTS)
def test_each_act_opens_for_its_roles_only(told, key, kit_manager, road_lead, crew, staff, client_person, sign_in):
    told(COPIED)
    ClientReference.objects.create(person=client_person, reference="FMC")
    for person in (kit_manager, road_lead, crew, staff, client_person):
        expected = 200 if person.role in ACTS[key].roles else 403
        assert sign_in(person).get(f"{SET}{key}/").status_code == expected
        if expected == 403:
            assert do(sign_in(person), key).status_code == 403


@pytest.mark.parametrize("key", sorted(set(ACTS) - {"release-own", "record", "stop"}))
def test_an_empty_form_is_422_and_writes_nothing(told, key, kit_manager, sign_in):
    told(RELEASED)
    before = Entry.objects.count(), Release.objects.count(), Wipe.objects.count(), Hold.objects.count()
    response = do(sign_in(kit_manager), key)
    assert response.status_code == 422
    assert 'class="error"' in text(response)
    assert before == (Entry.objects.count(), Release.objects.count(), Wipe.objects.count(), Hold.objects.count())


def test_a_road_lead_logs_recordings_and_a_swap(told, road_lead, sign_in):
    history = told("1 blank AB\n2 join A\n3 fit A\n4 join B CURLEW-1")
    client = sign_in(road_lead)
    assert "It is recording: FMC." in done(client, "record", reference="fmc")
    history.clock.shift(timedelta(hours=1))
    swap = {"out": history.drives["A"].pk, "into": "71B0BK", "bay": "A", "place": history.places["Mill"].pk}
    said = done(client, "swap", **swap, suspect="on")
    assert "71B0AK</code>, no longer in the set" in said
    history.clock.shift(timedelta(hours=1))
    assert "It is recording" not in done(client, "stop")
    assert Entry.objects.filter(verb=Verb.FITTED, label__item=history.drives["B"], bay="A").exists()
    assert answer(history, "A").answer == "NO"


def test_drives_are_fitted_pulled_joined_and_dropped(told, road_lead, sign_in):
    history = told("1 blank A\n1 new B")
    client, frame = sign_in(road_lead), history.frames["frame"].pk
    done(client, "join", drive="71B0AK", bay="A")
    done(client, "fit", drive=history.drives["A"].pk, frame=frame, bay="A")
    done(client, "pull", drive=history.drives["A"].pk, case="HER-03")
    assert "HER-03" in text(client.get(SET))
    done(client, "drop", drive=history.drives["A"].pk)
    assert "No drive has joined this set" in text(client.get(SET))


def test_a_case_that_is_none_is_refused_beside_its_field(told, road_lead, sign_in):
    history = told("1 blank A\n2 join A")
    response = do(sign_in(road_lead), "pull", drive=history.drives["A"].pk, case="HER-99")
    assert response.status_code == 422 and "HER-99 is no case" in text(response)


def test_a_bay_the_set_does_not_have_and_a_thing_that_is_no_drive_are_refused(told, road_lead, sign_in):
    told("1 blank A")
    response = do(sign_in(road_lead), "join", drive="HER-03", bay="Z")
    assert response.status_code == 422
    assert "is no drive" in text(response) and "not one of the available choices" in text(response)


def test_from_recording_to_release_and_wipe_with_two_people(told, kit_manager, road_lead, client_person, sign_in):
    """The whole way through the forms, the wipe begun by one and verified by another."""
    history = told("1 blank A\n2 join A\n3 record HERON-1 FMC\n5 stop HERON-1")
    ida, ana, drive = sign_in(kit_manager), sign_in(road_lead), history.drives["A"]
    owner = client_person.organisation.pk
    done(ida, "mandate", reference="FMC", owner=owner, persons=client_person.pk, why="producer", copies=2, media=2,
         elsewhere=1)  # fmt: skip
    for medium, place in (("tape", "archive"), ("disk", "Mill")):
        history.clock.shift(timedelta(minutes=5))
        done(ida, "copy", reference="FMC", drives=drive.pk, medium=medium, place=history.places[place].pk)
        done(ida, "copy-verified", copy=Copy.objects.latest("pk").pk, words="checksums compared")
    history.clock.shift(timedelta(minutes=5))
    said = done(ida, "release", reference="FMC", drives=drive.pk, person=client_person.pk, evidence="letter 7")
    assert "The one drive of HERON-1 may be wiped." in said
    begin = {"drives": "71B0AK", "whole_set": "on", "method": "purge", "technique": "block erase", "tool": "station 2"}
    refused = do(ida, "wipe", **begin)
    assert refused.status_code == 422 and "Somebody else must operate this wipe" in text(refused)
    history.clock.shift(timedelta(minutes=5))
    done(ana, "wipe", **begin)
    begun = Wipe.objects.get()
    refused = do(ana, "wipe-verify", wipes=begun.pk, words="all read back")
    assert refused.status_code == 422 and "A second person must verify it" in text(refused)
    history.clock.shift(timedelta(minutes=5))
    said = done(ida, "wipe-verify", wipes=begun.pk, words="all read back")
    assert "Nothing on it since" in said
    assert Mandate.objects.count() == 1


def test_the_bench_refuses_with_every_reason(told, road_lead, sign_in):
    told(COPIED)
    response = do(sign_in(road_lead), "wipe", drives="71B0AK", method="purge", technique="erase", tool="station 2")
    assert response.status_code == 422
    assert "What stands in the way" in text(response) and "Nothing has begun" in text(response)
    assert not Wipe.objects.exists()


def test_a_wipe_is_stopped_or_fails_and_the_drive_is_not_blank(told, road_lead, sign_in):
    history = told(RELEASED)
    client = sign_in(road_lead)
    begin = {"drives": "71B0AK", "method": "purge", "technique": "erase", "tool": "station 2"}
    for step in ("wipe-stop", "wipe-fail"):
        done(client, "wipe", **begin)
        history.clock.shift(timedelta(minutes=5))
        done(client, step, wipes=Wipe.objects.filter(step="begun").latest("pk").pk, words="power went")
        history.clock.shift(timedelta(minutes=5))
    assert "uspect" in text(client.get(SET)) and answer(history, "A").answer != "YES"


def test_a_hold_stops_and_its_lift_frees(told, kit_manager, sign_in):
    history = told(RELEASED)
    client = sign_in(kit_manager)
    for what in ("set", f"drive:{history.drives['A'].pk}", "show:FMC"):
        assert "HERON-1 may not be wiped" in done(client, "hold", what=what, why="insurance claim")
        history.clock.shift(timedelta(minutes=1))
        done(client, "lift", hold=Hold.objects.latest("pk").pk, why="claim paid")
        history.clock.shift(timedelta(minutes=1))
    assert "The one drive of HERON-1 may be wiped." in text(client.get(SET))
    assert HoldLift.objects.count() == 3


def test_a_release_is_withdrawn(told, kit_manager, sign_in):
    told(RELEASED)
    assert "HERON-1 may not be wiped" in done(
        sign_in(kit_manager), "withdraw", release=Release.objects.get().pk, why="a reshoot"
    )
    assert Withdrawal.objects.count() == 1


def test_content_is_given_named_and_declared_blank(told, kit_manager, sign_in):
    history = told("1 join A\n1 new B\n1 join B\n2 record HERON-1\n3 stop HERON-1")
    client, a, b = sign_in(kit_manager), history.drives["A"].pk, history.drives["B"].pk
    entry = Entry.objects.get(verb=Verb.RECORDING)
    choice = f"{min(a, b)}:{entry.pk}"
    done(client, "name", recording=choice, reference="FMC", why="the call sheet")
    history.clock.shift(timedelta(minutes=1))
    said = done(client, "content", drives=[a], reference="FMC")
    assert "Nobody has said what was on it before" in said  # of B still
    done(client, "blank", drives=[b], how_known="read back empty")
    assert answer(history, "B").answer == "NO"  # a declaration ends no content that an entry gave


def test_a_doubt_is_accepted_by_somebody_who_did_not_make_it(told, kit_manager, sign_in):
    history = told(RELEASED + "13 hand A Jo Tomas\n14 receive A Jo")
    client = sign_in(kit_manager)
    waiting = answer(history, "A")
    assert waiting.answer == "NOT KNOWN" and waiting.doubts
    choices = [f"{doubt.drive}:{doubt.digest}" for doubt in waiting.doubts]
    said = done(client, "accept", doubts=choices, why="asked Jo, she kept it locked")
    assert "The one drive of HERON-1 may be wiped." in said and Acceptance.objects.count() == len(choices)
    assert do(client, "accept", doubts=choices, why="again").status_code == 422


def test_drives_go_into_hands_and_come_back(told, road_lead, sign_in):
    history = told("1 blank A\n2 join A\n3 record HERON-1 FMC\n5 stop HERON-1")
    client, jo, drive = sign_in(road_lead), history.person("Jo"), history.drives["A"].pk
    assert "It is with Jo." in done(client, "hand-over", drives=drive, person=jo.pk, note="receipt R-0117")
    history.clock.shift(timedelta(hours=1))
    done(client, "receive", drives=drive, place=history.places["Mill"].pk, giver=jo.pk)
    assert Entry.objects.filter(verb=Verb.RECEIVED, person=jo).count() == 1


def test_health_serial_foreign_erased_and_break_up_reach_the_book(told, kit_manager, sign_in):
    history = told(RELEASED)
    client, drive = sign_in(kit_manager), history.drives["A"].pk
    done(client, "health", drive=drive, result="good", note="long test")
    done(client, "serial", drive=drive, serial="71B0AK")
    done(client, "foreign", drive=drive, why="came in a strange box")
    done(client, "erased", drive=drive, why="formatted in the frame")
    done(client, "break-up", why="the rest stays with the client")
    verbs = {Verb.CHECKED, Verb.SERIAL_READ, Verb.FOREIGN, Verb.ERASED, Verb.BROKEN_UP}
    assert set(Entry.objects.filter(verb__in=verbs).values_list("verb", flat=True)) == verbs


def test_a_bad_copy_counts_no_more(told, kit_manager, sign_in):
    told(RELEASED)
    copy = Copy.objects.latest("pk")
    assert "HERON-1 may not be wiped" in done(sign_in(kit_manager), "copy-bad", copy=copy.pk, words="does not read")


@pytest.fixture
def jo(client_person) -> Person:
    ClientReference.objects.create(person=client_person, reference="FMC")
    return client_person


MIXED = COPIED + "20 join B CURLEW-1\n20 fit A\n21 record HERON-1 CCA\n22 stop HERON-1\n23 record CURLEW-1 CCA\n24 stop"


def test_a_client_sees_her_own_shows_content_and_no_other(told, jo, sign_in):
    told(MIXED)
    client = sign_in(jo)
    for address in (SET, "/sets/"):
        said = text(client.get(address))
        assert "FMC" in said and "CCA" not in said and "CURLEW" not in said
    assert client.get("/set/curlew-1/").status_code == 404
    assert client.get("/set/curlew-1/release-own/").status_code == 404


def test_a_client_without_shows_sees_an_empty_list(told, client_person, sign_in):
    told(COPIED)
    client = sign_in(client_person)
    assert "No drive of ours holds a show of yours" in text(client.get("/sets/"))
    assert client.get(SET).status_code == 404


def test_a_client_releases_her_own_show_and_takes_it_back(told, jo, sign_in):
    history = told(COPIED.replace("FMC Jo", "FMC"))
    mandate = Mandate.objects.get()
    MandatePerson.objects.create(mandate=mandate, person=jo, why="producer")
    client, drive = sign_in(jo), history.drives["A"].pk
    refused = do(client, "release-own", reference="FMC", drives=drive)
    assert refused.status_code == 422 and not Release.objects.exists()
    assert do(client, "release-own", reference="CCA", drives=drive, sure="on").status_code == 422
    assert "All of it is released" in done(client, "release-own", reference="FMC", drives=drive, sure="on")
    assert Release.objects.get().person == jo
    history.clock.shift(timedelta(minutes=1))
    done(client, "withdraw", release=Release.objects.get().pk, why="a reshoot")
    assert Withdrawal.objects.count() == 1


def test_the_page_of_a_drive_says_what_is_on_it(told, staff, sign_in):
    history = told(COPIED)
    said = text(sign_in(staff).get(f"/item/{history.drives['A'].labels.get().code}/"))
    assert "It holds FMC and nobody has released that." in said
    assert "Its set: HERON-1" in said
