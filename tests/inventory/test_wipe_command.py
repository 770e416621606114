"""The wipe answer on the command line and for machines: of a drive, a set, and the set of a show."""

from __future__ import annotations

import json

import pytest
import time_machine
from django.core.management import CommandError, call_command

from inventory.models import ClientReference
from tests.inventory.histories import History
from tests.inventory.test_wipe_table import COPIED

pytestmark = pytest.mark.django_db


@pytest.fixture
def history():
    history = History().tell(COPIED)
    with time_machine.travel(history.now, tick=False):
        yield history


def asked(capsys, *args: str) -> dict:
    call_command("wipe_answer", *args, "--json")
    return json.loads(capsys.readouterr().out)


@pytest.mark.parametrize("subject", ["71B0AK", "71b0ak", "HERON-1", "heron-1", "FMC", "fmc"])
def test_a_drive_a_set_and_a_show_are_asked_by_what_people_call_them(history, capsys, subject):
    found = asked(capsys, subject)
    assert found["answer"] == "NO"
    assert [reason["word"] for reason in found["reasons"]] == ["not released"]
    assert found["reasons"][0]["way_out"]


def test_the_answer_is_asked_of_a_moment(history, capsys):
    assert asked(capsys, "71B0AK", "--at", "2026-03-14T13:30+00:00")["answer"] == "YES"


def test_the_readable_form_names_each_drive_of_a_set(history, capsys):
    call_command("wipe_answer", "HERON-1")
    said = capsys.readouterr().out
    assert said.startswith("NO: HERON-1 may not be wiped: its one drive stands in the way, bay A.")
    assert "  - " in said and "71B0AK" in said


def test_what_is_no_drive_is_not_known_here(history):
    with pytest.raises(CommandError, match="No drive, drive set or show “HER-03” is known"):
        call_command("wipe_answer", "HER-03")


def test_the_api_gives_the_same_answer_to_the_house_and_none_to_a_client(history, sign_in, staff, client_person):
    ClientReference.objects.create(person=client_person, reference="FMC")
    address = "/api/answers/wipe_answer/HERON-1/"
    assert sign_in(staff).get(address).json()["answer"] == "NO"
    assert sign_in(client_person).get(address).status_code == 404
    assert sign_in(None).get(address).status_code == 401
