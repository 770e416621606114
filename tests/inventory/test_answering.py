"""Answers on the command line and for machines."""

from __future__ import annotations

import json
from datetime import timedelta

import pytest
from django.core.management import CommandError, call_command

from inventory import ledger
from inventory.ledger import Fact
from inventory.models import ClientReference, Holding, Verb
from tests.factories import IDA, T0, make_case, make_drive, make_place, make_set

pytestmark = pytest.mark.django_db


@pytest.fixture
def case():
    case = make_case("HER-04")
    ledger.record([Fact(Verb.PLACED, case, place=make_place("Mill Yard"), reference="FJELL")], by=IDA, at=T0)
    return case


def run(capsys, *args):
    call_command(*args)
    return capsys.readouterr().out


@pytest.mark.parametrize("name", ["whereabouts", "contents", "history"])
def test_each_answer_reads_well_and_as_json(case, capsys, name):
    assert "HER-04" in run(capsys, name, "her-04")
    found = json.loads(run(capsys, name, "HER-04", "--json"))
    assert found["answer"] in {"seen", "empty", "told"}
    assert isinstance(found["reasons"], list)
    assert found["sentence"]


def test_whereabouts_is_asked_of_the_past(case, capsys):
    before = (T0 - timedelta(days=1)).isoformat()
    found = json.loads(run(capsys, "whereabouts", "HER-04", "--at", before, "--json"))
    assert found["answer"] == "place unknown"


@pytest.fixture
def curlew_1(case):
    """A set of two drives: one seen in the case, one that nobody ever placed."""
    found = make_set("CURLEW-1", "A B")
    drives = [make_drive("72C31A"), make_drive("72C32D")]
    joins = [Fact(Verb.JOINED, one, drive_set=found, bay=bay) for one, bay in zip(drives, "AB", strict=True)]
    ledger.record([*joins, Fact(Verb.PACKED, drives[0], place=case.inside)], by=IDA, at=T0)
    return found


def test_a_drive_set_is_as_sure_as_its_weakest_drive_and_names_each(curlew_1, capsys):
    found = json.loads(run(capsys, "whereabouts", "curlew-1", "--json"))
    assert found["answer"] == "place unknown"
    assert found["sentence"].startswith("CURLEW-1 is 2 drives:")
    assert [one["item"]["serial"] for one in found["drives"]] == ["72C31A", "72C32D"]
    assert found["reasons"] == [reason for one in found["drives"] for reason in one["reasons"]]
    assert "HER-04" in run(capsys, "whereabouts", "CURLEW-1")


def test_a_client_asks_for_no_whole_set(curlew_1, sign_in, client_person, staff):
    assert sign_in(client_person).get("/api/answers/whereabouts/CURLEW-1/").status_code == 404
    assert sign_in(staff).get("/api/answers/whereabouts/CURLEW-1/").status_code == 200


def test_contents_are_asked_of_a_place_by_its_name(case, capsys):
    assert "Mill Yard holds 1 thing." in run(capsys, "contents", "mill yard")


def test_an_unknown_code_ends_with_a_sentence_and_the_nearest(case):
    with pytest.raises(
        CommandError, match=r"No code, number, serial or drive set “HER-O4” is known. Did you mean HER-04"
    ) as ended:
        call_command("whereabouts", "HER-O4")
    assert ended.value.returncode == 1
    with pytest.raises(CommandError, match="is no time"):
        call_command("whereabouts", "HER-04", "--at", "yesterday")


def test_the_audit_notices_a_row_that_does_not_follow_and_mends_it(case, capsys):
    drive, box = make_drive("71B04K"), case
    ledger.record([Fact(Verb.PACKED, drive, place=box.inside, bay="C")], by=IDA, at=T0)
    assert "Every stored place follows from the 2 entries." in run(capsys, "audit_ledger")
    Holding.objects.filter(pk=drive.pk).update(bay="")
    with pytest.raises(SystemExit) as ended:
        call_command("audit_ledger")
    assert ended.value.code == 1
    assert "Pomandre Ingot 4T 71B04K is stored elsewhere" in capsys.readouterr().out
    found = json.loads(run(capsys, "audit_ledger", "--mend", "--json"))
    assert found["answer"] == "mended"
    assert Holding.objects.get(pk=drive.pk).bay == "C"


def test_the_api_answers_the_house(case, sign_in, staff):
    reply = sign_in(staff).get("/api/answers/whereabouts/HER-04/")
    assert reply.status_code == 200
    assert reply.json()["sentence"] == "HER-04 is at Mill Yard."
    at = (T0 - timedelta(days=1)).isoformat()
    assert sign_in(staff).get(f"/api/answers/whereabouts/HER-04/?at={at}").json()["answer"] == "place unknown"


def test_the_api_names_what_is_wrong(case, sign_in, staff):
    get = sign_in(staff).get
    assert get("/api/answers/whereabouts/HER-99/").status_code == 404
    assert "HER-04" in get("/api/answers/whereabouts/HER-99/").json()["sentence"]
    known = get("/api/answers/weather/HER-04/").json()["sentence"]
    assert all(name in known for name in ("contents", "history", "whereabouts"))
    assert get("/api/answers/whereabouts/HER-04/?at=noon").status_code == 422
    assert sign_in(staff).post("/api/answers/whereabouts/HER-04/").status_code == 405
    assert sign_in(None).get("/api/answers/whereabouts/HER-04/").status_code == 401


def test_a_client_sees_only_its_own_shows(case, sign_in, client_person):
    get = sign_in(client_person).get
    assert get("/api/answers/whereabouts/HER-04/").status_code == 404
    ClientReference.objects.create(person=client_person, reference="FJELL")
    assert get("/api/answers/whereabouts/HER-04/").status_code == 200
    assert get("/api/answers/history/HER-04/").status_code == 404
    said = get("/api/answers/whereabouts/HER-05/").json()["sentence"]
    assert said == "No code, number, serial or drive set “HER-05” is known."


def test_commands_ask_nothing_twice_when_history_is_long(case, django_assert_max_num_queries, capsys):
    with django_assert_max_num_queries(20) as short:
        run(capsys, "history", "HER-04")
    for n in range(30):
        ledger.record([Fact(Verb.PLACED, case, place=make_place(f"shelf {n}"))], by=IDA, at=T0 + timedelta(minutes=n))
    with django_assert_max_num_queries(len(short)):
        run(capsys, "history", "HER-04")
