"""Every reason leads to an act that is on the screen; and a release is asked for in a letter, and answered."""

from __future__ import annotations

from datetime import timedelta

import pytest

from inventory.answers.wiping import wipe_answer
from inventory.drive_pages import set_page
from inventory.drive_records import scope_of
from inventory.models import Release, ReleaseRequest, Role
from inventory.views.drive_acts import ACTS, act_titles
from inventory.ways_out import ELSEWHERE, ENDS, acts_that_end
from tests.inventory.histories import History
from tests.inventory.test_drive_pages import do, done
from tests.inventory.test_wipe_table import COPIED, TABLE

pytestmark = pytest.mark.django_db
FIRST = {row[4]: row for row in reversed(TABLE) if row[3] != "YES"}


def test_acts_named_as_ways_out_are_acts():
    assert {key for keys in ENDS.values() for key in keys} <= set(ACTS)


@pytest.mark.parametrize("word", sorted(FIRST))
def test_the_act_that_ends_a_reason_is_offered_to_a_kit_manager(word):
    _, story, what, _, _ = FIRST[word]
    history = History().tell(story)
    name = what if what in history.sets else "HERON-1"
    page = set_page(history.sets[name], history.now + timedelta(hours=1))
    told = {group.word for group in page.grouped} | ({word} if what not in history.sets else set())
    assert word in told
    offered = set(act_titles(Role.KIT_MANAGER, scope_of(page)))
    on_page = {card.drive.serial[-2] for card in page.cards}
    if word in ELSEWHERE or (len(what) == 1 and what not in on_page):
        return  # it is ended on the drive's own page
    assert set(acts_that_end(word)) & offered, word


def test_every_word_of_the_table_has_its_way_out():
    assert {row[4] for row in TABLE if row[3] != "YES"} <= set(ENDS) | set(ELSEWHERE)


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
