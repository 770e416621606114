"""Every reason of the wipe answer that there is leads to an act on the screen where it stands: set, drive, bench."""

from __future__ import annotations

import ast
import html
import re
from datetime import timedelta
from pathlib import Path

import pytest
from django.test import Client
from django.urls import reverse

from inventory import answers
from inventory.answers.drive_loading import book_for
from inventory.answers.values import Reason
from inventory.answers.wiping import MARK_WORDS, answer_drive, open_book
from inventory.views.drive_acts import ACTS
from inventory.ways_out import ELSEWHERE, ENDS, OF_A_SET
from tests.inventory.histories import History
from tests.inventory.test_wipe_table import TABLE

pytestmark = pytest.mark.slow

GROUNDS_OF_YES = {"released", "nothing on it"}
MAKES_A_REASON = {"Reason", "Doubt", "_from_entry"}
JUDGES = ("custody", "stops", "releases", "wiping")
FIRST = {row[4]: row for row in reversed(TABLE) if row[3] != "YES"}
WHO = ("kit manager", "road lead", "second person", "Ask ", "Get it back from", "Give it back to", "or a kit manager")


def words_of(module: str) -> set[str]:
    """Every word under which this module gives a reason, read from its text."""
    tree = ast.parse(Path(answers.__file__).with_name(f"{module}.py").read_text())
    calls = [
        one for one in ast.walk(tree) if isinstance(one, ast.Call) and getattr(one.func, "id", "") in MAKES_A_REASON
    ]
    firsts = [[arg.value for arg in call.args[:2] if isinstance(arg, ast.Constant)] for call in calls]
    return {words[0] for words in firsts if words}


EVERY_WORD = {word for module in JUDGES for word in words_of(module)} | set(MARK_WORDS)


def test_every_reason_that_there_is_stands_in_the_table_and_has_its_way_out():
    assert len(EVERY_WORD) >= 20, "else the text was not read"
    assert EVERY_WORD - GROUNDS_OF_YES == set(FIRST) == set(ENDS) | set(ELSEWHERE)


def test_acts_named_as_ways_out_are_acts():
    assert {key for keys in ENDS.values() for key in keys} | OF_A_SET <= set(ACTS)


def test_the_table_is_long_enough():
    assert len({row[1] for row in TABLE}) >= 60 and len({row[0] for row in TABLE}) == len(TABLE)


def plain(page: str) -> str:
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", page)))


def line_of(page: str, reason: Reason) -> str:
    """The line of a page's reasons on which this one stands."""
    lines = re.findall(r"<li>.*?</li>", page, re.DOTALL)
    found = [one for one in lines if reason.way_out in plain(one) and reason.sentence[1:40] in plain(one)]
    assert found, (reason.sentence, reason.way_out)
    return found[0]


def leads_to_an_act(client: Client, line: str) -> bool:
    """Does a link on the line open the form of an act?"""
    addresses = [html.unescape(one) for one in re.findall(r'class="ends" href="([^"]+)"', line)]
    pages = [client.get(one) for one in addresses]
    return bool(pages) and all(one.status_code == 200 and b'<form class="act"' in one.content for one in pages)


def reasons_of(history: History, word: str) -> list[tuple[str, Reason]]:
    """The drives of a story that bear the reason, each with it."""
    wb = open_book(book_for(drives=[one.pk for one in history.drives.values()]), history.now + timedelta(hours=1))
    told = {letter: answer_drive(wb, one.pk).reasons for letter, one in history.drives.items()}
    return [(letter, reason) for letter, reasons in told.items() for reason in reasons if reason.word == word]


OF_DRIVES = sorted(EVERY_WORD - GROUNDS_OF_YES - {"no drives", "destroyed"})


@pytest.mark.django_db
@pytest.mark.parametrize("word", OF_DRIVES)
def test_the_act_that_ends_a_reason_is_on_the_drives_own_page(word, told, kit_manager, sign_in):
    history, client = told(FIRST[word][1]), sign_in(kit_manager)
    bearers = reasons_of(history, word)
    assert bearers
    for letter, reason in bearers:
        page = client.get(reverse("item", args=[history.drives[letter].code])).content.decode()
        assert leads_to_an_act(client, line_of(page, reason)), reason.sentence


@pytest.mark.django_db
@pytest.mark.parametrize("word", OF_DRIVES)
def test_the_act_that_ends_a_reason_is_on_the_page_of_its_set(word, told, kit_manager, sign_in):
    history, client = told(FIRST[word][1]), sign_in(kit_manager)
    for letter, reason in reasons_of(history, word):
        page = client.get("/set/heron-1/").content.decode()
        if f">{history.drives[letter].serial}<" in page:  # else it is in no set, and its own page has the act
            assert leads_to_an_act(client, line_of(page, reason)), reason.sentence


@pytest.mark.django_db
@pytest.mark.parametrize("word", OF_DRIVES)
def test_the_bench_leads_to_the_page_that_ends_the_reason(word, told, kit_manager, sign_in):
    history, client = told(FIRST[word][1]), sign_in(kit_manager)
    letter, reason = reasons_of(history, word)[0]
    page = client.get("/bench/", {"drives": history.drives[letter].code}).content.decode()
    assert reason.sentence in plain(page) and reason.way_out in plain(page)
    assert f'href="{reverse("item", args=[history.drives[letter].code])}#content"' in page


@pytest.mark.django_db
@pytest.mark.parametrize("word", sorted(set(FIRST) - {"destroyed", "recording", "lost", "too few copies"}))
def test_every_not_known_says_by_whom_it_is_ended(word):
    _, story, what, answer, _ = FIRST[word]
    found = History().tell(story).answer(what)
    for reason in found.reasons:
        if reason.word == word and answer == "NOT KNOWN":
            assert any(who in reason.way_out for who in WHO), reason.way_out


@pytest.mark.django_db
def test_a_set_without_drives_leads_to_the_act_by_which_one_joins(told, kit_manager, sign_in):
    told(FIRST["no drives"][1])
    client = sign_in(kit_manager)
    page = client.get("/set/heron-1/").content.decode()
    assert "/set/heron-1/join/" in page and client.get("/set/heron-1/join/").status_code == 200


@pytest.mark.django_db
@pytest.mark.parametrize("named", ["HERON-1 FMC", "frame FMC", "frame -", "- FMC"])
def test_whatever_a_recording_named_it_is_stopped_on_the_page_of_the_set(named, told, road_lead, sign_in):
    history, client = told(f"1 blank A\n2 join A\n3 fit A\n5 record {named}"), sign_in(road_lead)
    assert [one.word for _, one in reasons_of(history, "recording")]
    page = client.get("/set/heron-1/").content.decode()
    assert "It is recording:" in page and "/set/heron-1/stop/" in page
    assert client.post("/set/heron-1/stop/", {"reference": ""}).status_code == 302
    history.clock.shift(60)
    assert "It is recording" not in client.get("/set/heron-1/").content.decode()


@pytest.mark.django_db
def test_a_stop_for_one_show_leaves_a_frame_recording_another(told, road_lead, sign_in):
    told("1 blank A\n2 join A\n3 fit A\n5 record frame FMC")
    client = sign_in(road_lead)
    client.post("/set/heron-1/stop/", {"reference": "CCA"})
    assert "It is recording: FMC" in client.get("/set/heron-1/").content.decode()


@pytest.mark.django_db
def test_a_set_that_records_by_name_stops_without_ending_what_its_frame_records(told, road_lead, sign_in):
    told("1 blank AB\n2 join A\n2 join B CURLEW-1\n3 fit AB\n5 record frame FMC\n6 record CURLEW-1 CCA")
    client = sign_in(road_lead)
    client.post("/set/curlew-1/stop/", {"reference": ""})
    page = client.get("/set/curlew-1/").content.decode()
    assert "It is recording: FMC" in page and "It is recording: CCA" not in page


@pytest.mark.django_db
def test_a_drive_in_no_set_is_declared_blank_on_its_own_page(told, kit_manager, road_lead, sign_in):
    history = told("1 new C")
    drive = history.drives["C"]
    address = reverse("own-drive-act", args=[drive.code, "blank"])
    assert sign_in(road_lead).get(address).status_code == 403
    client = sign_in(kit_manager)
    assert " checked" in client.get(address).content.decode(), "the one that is meant is chosen"
    assert client.post(address, {"drives": drive.pk}).status_code == 422, "how it is known was not said"
    done = client.post(address, {"drives": drive.pk, "how_known": "read back empty on the bench"}, follow=True)
    assert "YES" in plain(done.content.decode()) and "Nothing on it since" in plain(done.content.decode())
    for key in sorted(OF_A_SET):
        assert client.get(reverse("own-drive-act", args=[drive.code, key])).status_code == 404, key


@pytest.mark.django_db
def test_the_house_reads_the_way_out_and_only_who_may_gets_the_link(told, staff, kit_manager, sign_in):
    history = told("1 new C")
    address = reverse("item", args=[history.drives["C"].code])
    said = sign_in(staff).get(address).content.decode()
    assert "A kit manager looks" in said and 'class="ends"' not in said
    assert 'class="ends"' in sign_in(kit_manager).get(address).content.decode()
