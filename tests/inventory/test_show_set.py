"""The set of that show: every drive that ever held it, since when, how known, where it is, may it be wiped."""

from __future__ import annotations

import json

import pytest
import time_machine
from django.core.management import CommandError, call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.answers.show_set import set_of_show
from tests.inventory.histories import History
from tests.inventory.test_wipe_table import COPIED, SHOW

pytestmark = pytest.mark.django_db

SWAPPED = """
1 blank ABC
2 join AB
3 fit AB
5 record HERON-1 FMC
6 pull A
6 drop A
6 join C
6 fit C
8 stop HERON-1
"""


def told(story):
    history = History().tell(story)
    return set_of_show("FMC", history.now), history


def by_serial(found):
    return {one.drive.serial[4:-1]: one for one in found.drives}


def test_a_drive_swapped_out_and_the_one_that_came_for_it_both_stand_in_the_set():
    found, _history = told(SWAPPED)
    drives = by_serial(found)
    assert set(drives) == {"A", "B", "C"}
    assert [drives[one].swapped_out for one in "ABC"] == [True, False, False]
    (first,), (second,) = drives["A"].stretches, drives["C"].stretches
    assert first.end is not None and first.end == second.start
    assert (found.answer, found.wipe.answer) == ("held", "NO")
    assert "was on 3 drives; all of them still hold it, 1 of them swapped out" in found.sentence
    assert all(one.grades for drive in found.drives for one in drive.stretches)


def test_where_it_is_copies_and_the_wipe_answer_stand_with_each_drive():
    found, _history = told(COPIED)
    (one,) = found.drives
    assert one.where_words == one.where.sentence and "Mill" in one.where_words
    assert (one.wipe.answer, found.wipe.answer, one.copies) == ("NO", "NO", 2)
    assert {copy.word for copy in found.copies} == {"confirmed"}
    assert found.copies[0].confirmed_for == (one.drive.serial,)
    assert [(reason.word, drives) for reason, drives in found.grouped] == [("not released", [one])]


def test_times_told_afterwards_are_marked_reconstructed():
    found, _history = told(COPIED.replace("5 record", "5@8 record"))
    assert [stretch.marks for one in found.drives for stretch in one.stretches] == [("reconstructed",)]


def test_a_wiped_drive_stays_in_the_set_and_no_longer_holds_it():
    wiped = COPIED + "12 release FMC A Jo\n13 wipe A begun\n14 wipe A verified Ida\n"
    found, _history = told(wiped)
    (one,) = found.drives
    assert (found.answer, one.still_holds, one.stretches[0].gone) == ("gone", False, True)
    assert "is on none of them any more" in found.sentence


@pytest.mark.parametrize(
    "story,word",
    [
        ("10 copy FMC A film Mill unverified", "not verified"),
        ("10 copy FMC A film Mill bad", "bad"),
        ("6 copy FMC A film Mill", "does not count"),  # made while it was still recording
        ("10 copy FMC A film Mill", "confirmed"),
    ],
)
def test_a_copy_says_whether_it_counts(story, word):
    found, _history = told(SHOW + story)
    assert [copy.word for copy in found.copies] == [word]
    assert found.drives[0].copies == (word == "confirmed")


def test_a_show_nobody_recorded_says_so():
    found = set_of_show("NOPE", History().now)
    assert (found.answer, found.drives) == ("not known", ())
    assert found.sentence == "By the book no drive of ours ever held NOPE."


def test_the_command_the_json_and_the_api_say_the_same_and_a_client_asks_in_vain(capsys, sign_in, staff, client_person):
    history = History().tell(SWAPPED)
    with time_machine.travel(history.now, tick=False):
        call_command("set_of_show", "fmc")
        said = capsys.readouterr().out
        call_command("set_of_show", "FMC", "--json")
        data = json.loads(capsys.readouterr().out)
        assert sign_in(staff).get("/api/answers/set_of_show/FMC/").json() == data
        assert sign_in(client_person).get("/api/answers/set_of_show/FMC/").status_code == 404
        with pytest.raises(CommandError, match="No show “NOPE” is known"):
            call_command("set_of_show", "NOPE")
    assert said.startswith("FMC was on 3 drives") and "swapped out" in said
    assert len(data["drives"]) == 3 and data["drives"][0]["stretches"][0]["grades"]


def test_the_set_of_a_show_costs_the_same_queries_for_many_drives_as_for_few():
    history = History().tell(SWAPPED)
    with CaptureQueriesContext(connection) as few:
        assert len(set_of_show("FMC", history.now).drives) == 3
    history.tell("20 join DEFG\n20 fit DEFG\n21 record HERON-1 FMC\n22 stop HERON-1\n")
    with CaptureQueriesContext(connection) as many:
        assert len(set_of_show("FMC", history.now).drives) == 7
    assert len(many) == len(few)
