"""The page of the set of a show: who sees what of it, and the ways that lead there."""

import pytest
import time_machine
from django.urls import reverse

from inventory.models import ClientReference
from tests.factories import make_show
from tests.inventory.histories import History
from tests.inventory.test_wipe_table import COPIED


@pytest.fixture
def recorded(db):
    history = History().tell(COPIED)
    make_show("FMC", name="Fjellmark Masters Chess")
    with time_machine.travel(history.now, tick=False):
        yield history


def page(code="FMC"):
    return reverse("show-set", args=[code])


def text(response):
    return response.content.decode()


def test_the_house_reads_each_drive_with_place_copies_and_answer(recorded, staff, sign_in):
    said = text(sign_in(staff).get(page()))
    assert "FMC was on 1 drive" in said and "71B0AK" in said
    assert "2 confirmed" in said and "nobody has released that" in said
    assert reverse("drive-set", args=["heron-1"]) in said


def test_a_client_sees_that_its_content_is_there_and_neither_places_nor_anybody_else(recorded, client_person, sign_in):
    client = sign_in(client_person)
    assert client.get(page()).status_code == 404
    ClientReference.objects.create(person=client_person, reference="FMC")
    said = text(client.get(page()))
    assert "71B0AK" in said and "not released" in said
    assert "Mill" not in said and "HERON-1/" not in said and "May it be wiped" not in said


def test_a_show_that_is_in_the_ledger_alone_opens_for_the_house_and_an_unknown_one_for_nobody(
    recorded, staff, client_person, sign_in
):
    recorded.tell("20 join B\n20 fit B\n21 record HERON-1 OLD\n22 stop HERON-1\n")
    with time_machine.travel(recorded.now, tick=False):
        assert "OLD was on" in text(sign_in(staff).get(page("OLD")))
        assert sign_in(staff).get(page("NOPE")).status_code == 404
        assert sign_in(client_person).get(page("OLD")).status_code == 404


def test_show_set_and_where_pages_lead_there(recorded, staff, sign_in):
    client = sign_in(staff)
    pages = [reverse("show", args=["FMC"]), reverse("drive-set", args=["heron-1"]), reverse("where") + "?q=FMC"]
    assert [page() in text(client.get(address)) for address in pages] == [True] * 3
