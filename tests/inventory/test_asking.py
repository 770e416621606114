"""A release is asked for in a letter, and answered."""

from __future__ import annotations

from datetime import timedelta

import pytest

from inventory.answers.wiping import wipe_answer
from inventory.models import Release, ReleaseRequest
from tests.inventory.test_drive_pages import do, done
from tests.inventory.test_wipe_table import COPIED

pytestmark = pytest.mark.django_db


def test_the_page_links_the_act_beside_the_reason(told, kit_manager, staff, sign_in):
    told(COPIED)
    page = sign_in(kit_manager).get("/set/heron-1/").content.decode()
    assert "/set/heron-1/ask/?drives=" in page
    assert "/set/heron-1/ask/" not in sign_in(staff).get("/set/heron-1/").content.decode()


def test_a_letter_names_every_serial_and_the_yes_releases_exactly_those(told, kit_manager, sign_in):
    history = told(
        "1 blank AB\n2 join AB\n4 mandate FMC Jo\n5 record HERON-1 FMC\n6 drop B\n7 stop HERON-1\n10 copies FMC AB"
    )
    client, jo = sign_in(kit_manager), history.person("Jo")
    drives = [history.drives[letter].pk for letter in "AB"]
    page = done(client, "ask", reference="FMC", drives=drives, person=jo.pk)
    letter = ReleaseRequest.objects.get().text
    assert "71B0AK" in letter and "71B0BK" in letter and "may be erased" in letter and "on 2 drives" in letter
    assert "Jo was asked" in page and "no answer yet" in page
    later = done(client, "asked", request=ReleaseRequest.objects.get().pk, word="later", words="mail of Monday: wait")
    assert "not yet" in later and not Release.objects.exists()
    history.clock.shift(60)
    done(client, "asked", request=ReleaseRequest.objects.get().pk, word="yes", words="mail of Tuesday, in the folder")
    row = Release.objects.get()
    assert {one.drive_id for one in row.serials.all()} == set(drives) and row.person == jo
    assert do(client, "asked", request=ReleaseRequest.objects.get().pk, word="yes", words="again").status_code == 422
    assert wipe_answer(history.drives["A"], history.now + timedelta(hours=3)).answer == "YES"


def test_only_who_may_release_is_asked(told, kit_manager, sign_in):
    history = told(COPIED)
    steward = history.person("Steward")
    form = do(sign_in(kit_manager), "ask", reference="FMC", drives=history.drives["A"].pk, person=steward.pk)
    assert form.status_code == 422 and not ReleaseRequest.objects.exists()


def test_a_drive_that_joins_after_the_release_is_not_covered(told, kit_manager, sign_in):
    history = told(COPIED)
    client = sign_in(kit_manager)
    done(client, "ask", reference="FMC", drives=history.drives["A"].pk, person=history.person("Jo").pk)
    done(client, "asked", request=ReleaseRequest.objects.get().pk, word="yes", words="letter of today")
    history.tell("20 blank C\n20 join C\n21 record HERON-1 FMC\n22 stop HERON-1")
    assert wipe_answer(history.drives["C"], history.now + timedelta(hours=1)).answer == "NO"
