"""Signing in, out, and the choice of light or dark."""

import pytest


def test_the_right_password_opens_the_book(kit_manager, client):
    answer = client.post("/sign-in/", {"username": "ida", "password": "lantern"})
    assert answer.status_code == 302
    assert client.session["_auth_user_id"] == str(kit_manager.user.pk)


def test_a_wrong_password_says_what_to_look_at(kit_manager, client):
    page = client.post("/sign-in/", {"username": "ida", "password": "Lantern"})
    assert "capital letters" in page.content.decode()


@pytest.mark.parametrize(("wanted", "kept"), [("dark", "dark"), ("light", "light"), ("", "")])
def test_the_look_is_kept(db, client, wanted, kept):
    answer = client.post("/theme/", {"theme": wanted, "next": "/sign-in/"})
    assert answer["Location"] == "/sign-in/"
    page = client.get("/sign-in/").content.decode()
    assert (f'data-theme="{kept}"' in page) is bool(kept)


def test_the_look_never_leads_away(db, client):
    assert client.post("/theme/", {"theme": "dark", "next": "https://elsewhere.example/"})["Location"] == "/"
