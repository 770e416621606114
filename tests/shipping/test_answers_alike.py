"""One answer, asked on the command line, of the API, on a page and on paper: the same function, so the same words."""

from __future__ import annotations

import html
import json
import re

import pytest
from django.core.management import CommandError, call_command
from django.test import Client

from inventory.answers import registry
from inventory.answers.nearest import nearest
from inventory.models import Person
from shipping.documents.forms import draft

# answer: what is asked about in the demo world, the page a person reads it on, and a slip that nearly names something
ASKED = {
    "whereabouts": ("HER-07", "/where/?q=HER-07", "HER-O7"),
    "contents": ("HER-03", "/where/?q=HER-03", "HER-O3"),
    "history": ("HER-12", "/where/?q=HER-12", "HER-l2"),
    "readiness": ("Curlew", "/system/curlew/", "Curlow"),
    "wipe_answer": ("CURLEW-1", "/set/curlew-1/", "CURLEW-l"),
    "findings": ("HER-03", "/case/HER-03/", "HER-O3"),
    "reconcile": ("SBR", "/show/SBR/return/", "S8R"),
    "set_of_show": ("CCA", "/show/CCA/set/", "CCCA"),
    "where_to_look": ("WRE-07", "/where/?q=WRE-07", "WRE-O7"),
}


@pytest.fixture
def ida(tonight) -> Client:
    client = Client()
    client.force_login(Person.objects.get(name="Ida Penrake").user)
    return client


def read(client: Client, address: str) -> str:
    page = client.get(address)
    assert page.status_code == 200, address
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", page.content.decode())))


def on_the_command_line(capsys, *words: str) -> str:
    call_command(*words)
    return capsys.readouterr().out


def test_every_answer_is_asked_here():
    assert set(ASKED) == set(registry.names())


@pytest.mark.parametrize("name", ASKED)
def test_command_and_api_give_the_same_fields_and_words(tonight, ida, capsys, name):
    subject, _, _ = ASKED[name]
    told = json.loads(on_the_command_line(capsys, name, subject, "--json"))
    assert told == ida.get(f"/api/answers/{name}/{subject}/").json()
    assert isinstance(told["answer"], str) and told["answer"]
    assert all(set(one) >= {"word", "sentence", "way_out", "entries", "items"} for one in told["reasons"])
    said = on_the_command_line(capsys, name, subject)
    assert said.splitlines()[0] == told["sentence"]
    assert all(one["sentence"] in said for one in told["reasons"])


@pytest.mark.parametrize("name", ASKED)
def test_an_unknown_word_exits_1_with_what_looks_like_it(tonight, name):
    _, _, slip = ASKED[name]
    with pytest.raises(CommandError) as ended:
        call_command(name, slip)
    assert ended.value.returncode == 1
    assert str(ended.value).startswith(f"No {registry.named(name).one} “{slip}” is known.")
    assert nearest(slip) and f"Did you mean {' or '.join(nearest(slip))}?" in str(ended.value)


@pytest.mark.parametrize("name", ["whereabouts", "readiness", "reconcile"])
def test_the_page_says_the_sentence_of_the_answer(tonight, ida, capsys, name):
    subject, address, _ = ASKED[name]
    assert json.loads(on_the_command_line(capsys, name, subject, "--json"))["sentence"] in read(ida, address)


@pytest.mark.parametrize("drive_set", ["CURLEW-1", "HERON-1", "HERON-2"])
def test_page_command_and_paper_say_one_sentence_of_a_sets_wipe(tonight, ida, capsys, drive_set):
    told = json.loads(on_the_command_line(capsys, "wipe_answer", drive_set, "--json"))
    word, _, said = told["sentence"].partition(": ")
    assert word == told["answer"]
    assert f"{word} {said}" in read(ida, f"/set/{drive_set.lower()}/")
    assert draft("custody-sheet", drive_set.lower(), "", tonight.zero).body.answer == told["sentence"]


@pytest.mark.parametrize("name", ["readiness", "findings"])
def test_the_page_says_each_reason_of_the_answer(tonight, ida, capsys, name):
    subject, address, _ = ASKED[name]
    page = read(ida, address)
    reasons = json.loads(on_the_command_line(capsys, name, subject, "--json"))["reasons"]
    assert [one["sentence"] for one in reasons if one["sentence"] not in page] == []


def test_papers_print_the_words_of_the_answers(tonight, capsys):
    at = tonight.zero
    told = json.loads(on_the_command_line(capsys, "reconcile", "SBR", "--json"))
    assert draft("return-checklist", "SBR", "", at).body.by_now == told["sentence"]
    ready = json.loads(on_the_command_line(capsys, "readiness", "Curlew", "--json"))
    assert draft("ready-card", "curlew", "", at).body.answer == ready["answer"]
