"""A phone's photo goes up by itself, before the scan that names it."""

from __future__ import annotations

import hashlib
from datetime import timedelta

import pytest
import time_machine
from django.test import Client

from inventory.models import Entry, Photo, PhotoAsSent
from tests.factories import T0, make_case, make_device
from tests.inventory.test_photos import picture
from tests.inventory.uploading import a_scan, answers


@pytest.fixture(autouse=True)
def phone(db):
    with time_machine.travel(T0 + timedelta(minutes=1), tick=False):
        yield make_device()


def post(body: bytes, token: str = "Pim Osgood"):
    headers = {"X-Device-Token": token} if token else {}
    client = Client(enforce_csrf_checks=True)
    return client.post("/api/photos/", body, content_type="image/jpeg", headers=headers)


def test_a_scan_finds_its_photo_by_the_hash_of_what_the_phone_sent():
    body, case = picture().read(), make_case()
    answer = post(body)
    assert answer.json() == {"hash": hashlib.sha256(body).hexdigest()}
    answers([a_scan(case.code, verb="faulted", note="wheel off", photo=answer.json()["hash"])])
    entry = Entry.objects.get(verb="faulted")
    assert entry.photo == Photo.objects.get() and "not received" not in entry.note
    assert entry.photo.taken_by == "Pim Osgood"


def test_the_same_photo_sent_twice_is_kept_once():
    body = picture().read()
    assert post(body).json() == post(body).json()
    assert (Photo.objects.count(), PhotoAsSent.objects.count()) == (1, 1)


def test_a_scan_whose_photo_never_came_says_so_and_is_kept():
    answers([a_scan(make_case().code, verb="faulted", note="wheel off", photo="a" * 64)])
    assert "was not received" in Entry.objects.get(verb="faulted").note


@pytest.mark.parametrize(
    ("body", "token", "status"),
    [(b"no picture", "Pim Osgood", 422), (b"", "Pim Osgood", 422), (b"x", "", 401), (b"x", "somebody", 401)],
)
def test_what_is_no_photo_or_from_no_phone_is_refused_in_a_sentence(body, token, status):
    answer = post(body, token)
    assert answer.status_code == status and answer.json()["error"].endswith(".")
    assert not Photo.objects.exists()


def test_a_photo_is_only_taken_by_post():
    assert Client().get("/api/photos/").status_code == 405
