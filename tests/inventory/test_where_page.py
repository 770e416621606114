"""Where is… answers in a sentence, and shows a person only what is theirs to see."""

from __future__ import annotations

import re

import pytest

from inventory.ledger import Fact, record
from inventory.models import Person, Verb
from inventory.telling_apart import apart
from tests.factories import IDA, T0, make_case, make_item, make_system


def _page(client, text: str) -> str:
    answer = client.get("/where/", {"q": text})
    assert answer.status_code == 200
    return answer.content.decode()


@pytest.fixture
def cast(tonight, sign_in):
    return {name: sign_in(Person.objects.get(name=name)) for name in ("Ida Penrake", "Tomas Quill", "Jo Marlow")}


def test_a_drive_is_answered_with_place_strength_and_seal(cast):
    page = _page(cast["Tomas Quill"], "71BO4K")
    assert "is in HER-04, A, on Teasel, at Fjellmark Hall." in page
    assert "004470" in page


def test_a_set_names_every_drive_that_holds_its_show(cast):
    page = _page(cast["Tomas Quill"], "herion 2")
    assert "HERON-2 is 7 drives" in page
    assert "71B07N" in page


@pytest.mark.parametrize("question", ["where is herion 2?", "Where's HERON-2", "where is… heron 2 ??"])
def test_the_boxs_own_words_may_be_typed_along(cast, question):
    assert "HERON-2 is 7 drives" in _page(cast["Tomas Quill"], question)


@pytest.mark.parametrize("text", ["where", "where is", "?"])
def test_a_question_without_a_thing_is_looked_for_as_it_stands(cast, text):
    assert f"Where is {text}" in _page(cast["Tomas Quill"], text)


def test_two_stories_are_told_as_two(cast):
    page = _page(cast["Ida Penrake"], "HER-07")
    assert "newer of two stories" in page
    assert "Ana Rell loaded HER-07 on Teasel" in page


def test_nothing_found_says_what_to_try(cast):
    assert "last four of the serial" in _page(cast["Ida Penrake"], "zzqqxx")


def test_an_empty_box_says_what_may_be_typed(cast):
    assert "the end of a serial" in _page(cast["Ida Penrake"], "")


def test_a_client_finds_only_what_was_on_their_shows(cast):
    assert "CURLEW-1 is 6 drives" in _page(cast["Jo Marlow"], "CURLEW-1")
    assert "Nothing in the book looks like that" in _page(cast["Jo Marlow"], "HERON-2")


def test_a_clients_own_things_are_found_by_plain_words_and_nobody_elses(cast):
    page = _page(cast["Jo Marlow"], "panels")
    assert "E9038F" in page and "R1622F" not in page  # the other is Heron’s, which was on another show


def test_what_a_client_may_see_is_asked_for_all_at_once(cast, django_assert_max_num_queries):
    _page(cast["Jo Marlow"], "frame")
    with django_assert_max_num_queries(30):
        _page(cast["Jo Marlow"], "panels")  # eleven fit


def test_a_stranger_signs_in_first(db, client):
    assert client.get("/where/", {"q": "HER-04"})["Location"].startswith("/sign-in/")


def offers(page: str) -> list[str]:
    return [" ".join(re.sub("<[^>]+>", " ", one).split()) for one in re.findall(r"<li><a href=.*?</li>", page)]


def test_alike_things_are_offered_each_with_what_sets_it_apart(cast):
    """Two systems have a right rail: neither line may read like the other, and each says whose and where it is."""
    found = [one for one in offers(_page(cast["Ida Penrake"], "right rail")) if one.startswith("right rail")]
    assert len(found) >= 2 and len(set(found)) == len(found)
    assert any("Heron · in HER-10" in one for one in found)
    assert any("Curlew · in Rooms rack 3, home CUR-10" in one for one in found)
    assert all("code " in one or "no label in use" in one for one in found)


def test_what_sets_things_apart_costs_the_same_queries_for_many_as_for_few(db, django_assert_num_queries):
    case, system = make_case("PLO-10"), make_system("Plover")
    alike = [make_item(name="right rail", serial=f"RR-100{n}", home_case=case, home_system=system) for n in range(6)]
    record([Fact(Verb.PACKED, one, place=case.inside) for one in alike[:5]], by=IDA, at=T0)
    with django_assert_num_queries(2):
        told = apart([one.pk for one in alike])
    assert len(set(told.values())) == 6
    assert told[alike[0].pk].startswith("Plover · in PLO-10 · serial …-1000 · code ")
    assert "nobody said where, home PLO-10" in told[alike[5].pk]
