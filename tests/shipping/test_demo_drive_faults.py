"""The demo world's faults about drives, told on the screens where staff meet them: sentence, reason, next act."""

from __future__ import annotations

import html
import re

import pytest
from django.test import Client
from django.urls import reverse

from inventory.models import DriveSet, Entry, Item, Person

NAMES = {"ida": "Ida Penrake", "tomas": "Tomas Quill", "wes": "Wes Tarn"}


class Screens:
    """What one person reads: pages as words, and the addresses that their links and forms lead to."""

    def __init__(self, who: str) -> None:
        self.client = Client()
        self.client.force_login(Person.objects.get(name=NAMES[who]).user)
        self.address, self.page = "", ""

    def open(self, address: str) -> str:
        answer = self.client.get(address)
        assert answer.status_code == 200, address
        self.address, self.page = address, answer.content.decode()
        return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", self.page)))

    def find(self, text: str) -> str:
        answer = self.client.get("/where/", {"q": text})
        self.page = answer.content.decode()
        return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", self.page)))

    def offers(self, address: str) -> bool:
        """Is there a link or a form that leads there, and does it open?"""
        return any(one.startswith(address) for one in re.findall(r'(?:href|action)="([^"]+)"', self.page))


@pytest.fixture
def ida(tonight):
    return Screens("ida")


@pytest.fixture
def tomas(tonight):
    return Screens("tomas")


def act(name: str, key: str) -> str:
    return reverse("drive-act", args=[DriveSet.objects.get(name=name).slug, key])


def thing(serial: str) -> str:
    return reverse("item", args=[Item.objects.get(serial=serial).labels.first().code])


def test_1_the_drive_that_was_swapped_out_still_counts_as_one_of_seven(ida, tomas):
    said = tomas.find("HERON-2")
    assert "HERON-2 is 7 drives: 6 in HER-04, Teasel" in said
    assert "One more holds the same: 71B07N, swapped out, in HER-04" in said
    page = ida.open("/set/heron-2/")
    assert "NO HERON-2 may not be wiped: 7 of 7 drives stand in the way" in page and "drive 71B07N" in page
    assert "It holds FMC and nobody has released that. Ask Runa Eide to release it, serial by serial." in page
    assert "71B07N , no longer in the set" in page
    assert ida.offers(act("HERON-2", "ask")), "the letter that asks is one press away"
    form = ida.open(act("HERON-2", "ask"))
    assert form.count("71B07N") >= 1 and ida.page.count(" checked") == 7, "all seven are asked about"


def test_2_two_drives_marked_c_are_named_by_their_serials(ida):
    page = ida.open("/case/HER-04/")
    assert (
        "Two Cs of HERON-2: cold spare 2 W7521E and HERON-2 C 71B07N. Say which one is the spare, and mark it." in page
    )
    assert "pocket" in page, "the old one does not lie in a slot"
    assert "HERON-2 C 71B07N" in ida.open(thing("71B07N"))


def test_3_curlews_drive_is_told_in_herons_box_in_its_own_and_at_the_border(ida, tomas, tonight):
    page = ida.open("/case/HER-03/")
    assert (
        "A drive of CURLEW-1 (bay D) is in slot E: CURLEW-1 D 72C35H. Take it out, or say why it travels here." in page
    )
    assert "belongs in CUR-03" in page and "SEALED OVER A BLOCK" in page
    own = ida.open("/case/CUR-03/")
    assert "CURLEW-1 D is missing: in HER-03. Bring it, or say why the set travels without it." in own
    assert "is in HER-03, E, on Teasel" in tomas.find("72C35H")
    listed = ida.open(reverse("border-list", args=[tonight.shows["FMC"].border_lists.get().pk]))
    assert "CURLEW-1 D 72C35H is on the leg and on no line. Take it off, or have a list issued that names it." in listed
    assert "Open HER-03 or decide: it is sealed over 2 blocks" in ida.open("/")


def test_7_the_awards_are_unreleased_half_copied_and_long_without_power(ida, tomas):
    page = ida.open("/set/curlew-1/")
    assert "It holds CCA and nobody has released that. Ask Jo Marlow to release it, serial by serial." in page
    assert "1 of 2 copies of CCA confirmed, on 1 of 2 media, 1 of 1 elsewhere. Make and verify the copies" in page
    assert "has had no power for 70 days, by the book. Power it and check it this week." in page
    assert "JESD218" in page, "whose figures they are"
    for key in ("release", "ask", "copy-verified", "hash-list", "health"):
        assert ida.offers(act("CURLEW-1", key)), key
    assert "Power and check the drives this week: CURLEW-1, 6 hold CCA without power for 70 days" in tomas.open("/")
    system = ida.open("/system/curlew/")
    assert "no blank drive set" in system and "Ask Jo Marlow to release it, serial by serial." in system


def test_8_a_set_that_was_broken_up_counts_as_two_and_says_who_has_the_rest(ida, tomas):
    page = ida.open("/set/curlew-2/")
    assert "It is broken up: A to D with the client. Count on 2 of its 6 drives" in page
    assert "Bays A, B, C, D: It is with Jo Marlow. Get it back from Jo Marlow." in page
    assert "Jo Marlow (Glasswright Trust) holds 4 drives, due" in page and "+44 7700 900121" in page
    assert "receipt R-0117" in page and ida.offers(act("CURLEW-2", "receive"))
    assert "CURLEW-2 is 6 drives: 4 with Jo Marlow; 2 in CUR-04" in tomas.find("CURLEW-2")


def test_9_the_drive_that_failed_its_wipe_is_suspect_and_has_no_record(ida, tomas):
    page = ida.open("/set/heron-1/")
    said = "may not be wiped yet, because nobody knows enough: 1 of 6 drives stands in the way, bay E."
    assert f"NOT KNOWN HERON-1 {said}" in page
    assert "Bay E: Suspect: Tomas Quill reported on" in page and "health check failed during the wipe" in page
    assert "A kit manager records a named health check with its result, or decides to destroy it" in page
    assert ida.offers(act("HERON-1", "health"))
    assert "HERON-1 E 71A99M is on shelf Q, Mill Yard." in tomas.find("71A99M")
    assert "NOT KNOWN Drive 71A99M may not be wiped yet" in tomas.open(thing("71A99M"))


def test_10_a_yes_from_somebody_without_authority_is_not_known(ida):
    page = ida.open("/set/wren-1/")
    assert "NOT KNOWN WREN-1 may not be wiped yet" in page and "4 of 4 drives stand in the way" in page
    assert "but nothing says that Odd Varley may. Ask Nell Harrow." in page and "unsure release" in page
    assert "said on the pontoon" in page and "Entered by Ana Rell." in page
    for key in ("ask", "mandate", "release"):
        assert ida.offers(act("WREN-1", key)), key


def test_16_the_hired_headset_is_told_first_and_where_it_lies(ida, tomas):
    today = ida.open("/")
    assert "back to Brambleside Hire: the hire ended" in today and "4.50 a day" in today
    case = ida.open("/case/CUR-12/")
    assert re.search(r"hired from Brambleside Hire until \d+ \w+: it goes back first", case)
    found = tomas.find("C5828H")
    assert "is in CUR-12" in found


def test_18_the_drives_that_came_back_fitted_are_suspect_until_checked(ida, tomas):
    page = ida.open("/set/curlew-1/")
    assert "Bays E, F: Suspect: Wes Tarn reported on" in page and "came back fitted in the frame: shock-suspect" in page
    assert "A kit manager records a named health check with its result" in page and ida.offers(
        act("CURLEW-1", "health")
    )
    case = ida.open("/case/CUR-03/")
    assert "CURLEW-1 E 72C37K has an open fault: came back fitted in the frame" in case
    assert "Suspect: Wes Tarn reported on" in tomas.open(thing("72C38M"))


def test_drives_found_in_the_bays_at_receiving_are_one_incident(tonight):
    wes, frame = Screens("wes"), Item.objects.get(serial="76N8505R")
    drives = list(Item.objects.filter(home_set__name="FLOAT-1").order_by("name").values_list("pk", flat=True))[:2]
    assert "YES" in wes.open("/set/float-1/") and wes.offers(act("FLOAT-1", "came-fitted"))
    asked = {"drives": drives, "frame": frame.pk}
    lacks = wes.client.post(act("FLOAT-1", "came-fitted"), asked)
    assert lacks.status_code == 422 and "This field is required" in lacks.content.decode()
    answer = wes.client.post(act("FLOAT-1", "came-fitted"), {**asked, "told": "Ana Rell, by phone"}, follow=True)
    said = html.unescape(answer.content.decode())
    assert "Nobody uses or wipes them before a health check" in said
    assert "Told: Ana Rell, by phone" in said and "2 of 4 drives stand in the way" in said
    assert "travelled with 2 drives fitted" in html.unescape(wes.client.get(thing("76N8505R")).content.decode())
    assert len({Entry.objects.filter(verb="faulted", label__item=pk).latest("happened_at").act for pk in drives}) == 1
