"""readiness and reconcile on the command line."""

import json

import pytest
from django.core.management import CommandError, call_command

from tests.factories import make_show, make_system


def test_readiness_says_the_verdict_for_a_day_in_words_and_json(db, capsys):
    make_system("Curlew")
    call_command("readiness", "curlew", "--on", "2026-03-20")
    assert "Curlew is NOT READY for 20 March 2026" in capsys.readouterr().out
    call_command("readiness", "Curlew", "--on", "2026-03-20", "--json")
    told = json.loads(capsys.readouterr().out)
    assert (told["answer"], told["on"], told["reasons"][0]["word"]) == ("NOT READY", "2026-03-20", "no parts listed")


def test_reconcile_of_a_show_that_has_not_left_says_so(db, capsys):
    make_show("FMC")
    call_command("reconcile", "fmc")
    assert "Nothing has left a store with FMC yet" in capsys.readouterr().out
    call_command("reconcile", "FMC", "--json")
    assert json.loads(capsys.readouterr().out)["answer"] == "not gone yet"


@pytest.mark.parametrize("asked", [("readiness", "Wren"), ("readiness", "Wren", "--on", "soon"), ("reconcile", "XX")])
def test_an_unknown_subject_or_day_stops_with_a_sentence(db, asked):
    with pytest.raises(CommandError, match="No (system|show)|is no time"):
        call_command(*asked)
