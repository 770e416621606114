"""Where is… answers in a sentence, and shows a person only what is theirs to see."""

from __future__ import annotations

import pytest

from inventory.models import Person


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


def test_a_stranger_signs_in_first(db, client):
    assert client.get("/where/", {"q": "HER-04"})["Location"].startswith("/sign-in/")
