"""What is wrong in the demo's book, met on the scan page as a crew member would meet it tonight."""

from __future__ import annotations

import pytest
from django.utils import timezone

from inventory import passes
from inventory.access import COOKIE
from inventory.models import Entry
from tests.browser.phones import Phone, home_leg
from tests.browser.test_scan_tasks import FRESH, big, code, press, pressed, sent


def joined(chromium, book, show: str, name: str):
    """A phone on a pass of this show that may do all that a pass may."""
    now = timezone.now()
    wide = passes.make(show, verbs=passes.PASS_VERBS, start=now, hours=24, by="Ida Penrake", at=now)
    _, token = passes.join(wide, name, at=now)
    one = Phone(chromium, book.url, {COOKIE: token})
    one.join()
    yield one
    assert one.errors == []
    one.close()


@pytest.fixture(scope="module")
def phone(chromium, book):
    yield from joined(chromium, book, "FMC", "Pim tasks")


@pytest.fixture
def wes(chromium, book, db):
    """At the store's door, with the return of the regatta coming in. Closed before the book is put back."""
    yield from joined(chromium, book, "SBR", "Wes tasks")


@pytest.fixture
def pim(phone, db):
    phone.js(FRESH)
    yield phone
    phone.sends_all()  # what a failed test left unsent would otherwise arrive in the next one


def test_two_drives_marked_c_are_told_apart_and_both_kept(pim, book):
    """Faults 1 and 2: the old C and the cold spare that took over in the middle of the show lie in one box."""
    old = book.drive("HERON-2", "C")
    assert Entry.objects.filter(label__item=old, verb="pulled").exists()
    pim.doing(task="pack")
    pim.handheld("HER-04", code(old))
    word, sentence = pim.said()
    assert (word, sentence.split(":")[0]) == ("WRONG", "Two Cs")
    assert sent(pim)[-1].place == book.inside("HER-04")


def test_a_sisters_drive_in_our_box_is_named(pim, book):
    """Fault 3: CURLEW-1's D lies in HER-03."""
    pim.doing(task="pack")
    pim.handheld("HER-03", code(book.drive("CURLEW-1", "D")))
    word, sentence = pim.said()
    assert word == "WRONG"
    assert sentence.startswith("This is CURLEW-1's D. It lies in HER-03 already")
    assert sentence.endswith("it belongs in CUR-03.")
    assert [entry.verb for entry in sent(pim)] == ["seen", "packed"]


def test_the_sisters_panel_is_told_by_its_serial(pim, book):
    """Fault 4: what a count calls complete is the other system's panel."""
    panels = {one["system"]: one for one in pim.js("() => stowbook.day.list.items.filter(one => one.twin)")}
    pim.doing(task="twins", system="Heron")
    pim.handheld(panels["Curlew"]["code"])
    word, sentence = pim.said()
    assert word == "WRONG" and sentence.startswith("This is Curlew's")
    assert [entry.verb for entry in sent(pim)] == ["seen"]


def test_a_rail_found_at_the_venue_is_known_as_ours_or_kept_all_the_same(pim, book):
    """Fault 5: a rail left behind in a rack of another show's venue, found by whoever passes."""
    rail = next(item for item in book.home_items("CUR-10") if "right" in str(item).lower())
    pim.doing(task="found", place=f"place:{home_leg(book).from_place_id}", words="Fjellmark Hall")
    pim.handheld(code(rail))
    assert "Found here: kept." in pim.said()[1]
    (entry,) = sent(pim)
    assert (entry.verb, entry.label.item) == ("found", rail)


def test_the_part_that_is_still_to_come_is_counted_in_off_the_courier(wes, book, db):
    """Fault 13: the return came in two parts to two stores; WRE-07 comes by a courier whom nobody scanned off."""
    count_in(wes, "SBR: Saltmere Basin to Quay Unit")
    assert wes.do(lambda page: page.inner_text(".left")) == "0 still to count"  # WRE-05 is there
    count_in(wes, "SBR: Saltmere Basin to Mill Yard", "by courier")
    assert big(wes) == 1
    wes.do(lambda page: page.locator("#left summary").first.click())
    wes.do(lambda page: page.locator("#left li", has_text="WRE-07").wait_for())
    wes.handheld("WRE-07")
    assert wes.said() == ("GOOD", "WRE-07 at Mill Yard.")
    assert "That is all of them." in wes.do(lambda page: page.inner_text("#left"))
    wes.handheld("WRE-05")
    word, sentence = wes.said()
    assert word == "WRONG" and sentence.startswith("WRE-05 is not on this list")
    assert sentence.endswith("Recorded at Mill Yard all the same.")
    wes.sends_all()
    told = Entry.objects.filter(device__name="Wes tasks").order_by("device_seq")
    assert [(entry.verb, str(entry.label.item), str(entry.place)) for entry in told] == [
        ("arrived", "WRE-07", "Mill Yard"), ("arrived", "WRE-05", "Mill Yard"),
    ]  # fmt: skip


def count_in(phone, route: str, how: str = "") -> None:
    """Choose what has arrived as a person does: by the words on the buttons."""

    def choose(page):
        page.evaluate("stowbook.go('choose')")
        page.get_by_role("button", name="Count on arrival", exact=True).click()
        page.get_by_role("button").filter(has_text=route).filter(has_text=how).first.click()
        page.locator("#left").wait_for()

    phone.do(choose)


def test_a_case_with_two_stories_says_who_put_it_where(visitors, book, db):
    """Fault 14: HER-07 is on Teasel by Ana and on Meadowrue by Pim, whose clock is slow; the dock shows both."""
    leg = home_leg(book)
    card = visitors.do("ana", lambda page: (page.goto(f"/dock/{leg.pk}/"), page.inner_text("[data-key=conflicts]"))[1])
    assert all(words in card for words in ("TWO STORIES", "HER-07", "Teasel", "Meadowrue", "Ana Rell", "Pim Osgood"))
    assert "47 min slow" in visitors.do("ana", lambda page: page.inner_text("[data-key=phones]"))


def test_a_scan_of_a_case_with_two_stories_is_kept_and_told_as_no_good(pim, book):
    """Fault 14 on the phone: whoever scans HER-07 onto Teasel hears that Pim put it on Meadowrue."""
    leg = home_leg(book)
    pim.doing(task="load", leg=leg.pk)
    pim.do(lambda page: page.locator("#left summary").first.click())
    line = pim.do(lambda page: page.locator("#left li", has_text="HER-07").inner_text())
    assert "two stories: on Meadowrue by Pim Osgood at " in line and ", or on Teasel by Ana Rell at " in line
    for _again in range(2):
        pim.js("() => stowbook.last = null")  # some time later: not the same scan read twice
        pim.handheld("HER-07")
        word, sentence = pim.said()
        assert word == "WRONG"
        assert sentence.startswith("HER-07: two stories. Also scanned onto Meadowrue by Pim Osgood at ")
        assert sentence.endswith("Recorded on Teasel all the same; look which it is on, and tell the road lead.")
    pim.handheld("HER-08")
    assert pim.said() == ("GOOD", "HER-08 on Teasel.")
    found = sent(pim)
    assert [str(entry.label.item) for entry in found] == ["HER-07", "HER-07", "HER-08"]
    assert {(entry.verb, entry.place) for entry in found} == {("loaded", leg.vehicle.inside)}


def test_a_case_with_two_stories_is_settled_by_who_unloads_it(pim, book):
    pim.doing(task="unload", leg=home_leg(book).pk)
    pim.handheld("HER-07")
    word, sentence = pim.said()
    assert word == "GOOD"
    assert sentence.startswith("HER-07 at Mill Yard. Two phones had it on two vehicles (on Meadowrue by Pim Osgood at ")
    assert sentence.endswith("): it is here, tell the road lead.")
    pim.handheld("HER-08")
    assert pim.said() == ("GOOD", "HER-08 at Mill Yard.")


def test_a_seal_of_customs_in_place_of_ours_is_asked_for_on_arrival(pim, book):
    """Fault 15: HER-12 left with 004418; 004481 was read on it. Where it comes home, the count asks which it is."""
    pim.doing(task="count", leg=home_leg(book).pk)
    pim.handheld("HER-12")
    assert "It was sealed with 004418; Wes Tarn read 004481 on it on " in pim.said()[1]
    pressed(pim, "Seal 004481: it is")
    assert pim.said() == ("GOOD", "HER-12: seal 004481.")
    pim.js("() => stowbook.last = null")
    pim.handheld("HER-12")
    press(pim, "Other seal")

    def other(page):
        page.fill("[name=seal]", "004418")
        page.get_by_role("button", name="That is the number").click()
        page.get_by_text("HER-12: seal 004481 was expected, 004418 is on it").first.wait_for()

    pim.do(other)
    assert [entry.seal for entry in sent(pim) if entry.verb == "seen"] == ["004481", "004418"]


def test_a_keyboard_without_a_tag_gets_a_code_and_is_kept(pim, book):
    """Fault 17: found in HER-06, of no list."""
    pim.doing(task="found", place=f"place:{home_leg(book).from_place_id}", words="Fjellmark Hall")

    def keep(page):
        page.get_by_role("button", name="No label").click()
        page.fill("[name=words]", "A keyboard, no tag, in HER-06")
        page.get_by_role("button", name="Keep it").click()
        page.get_by_text("Write that on a piece of tape").first.wait_for()

    pim.do(keep)
    (entry,) = sent(pim)
    assert (entry.verb, entry.label.item, entry.note) == ("found", None, "A keyboard, no tag, in HER-06")


def test_a_torn_label_and_a_worn_serial_still_find_the_case_by_its_number(pim, book):
    """Fault 21: no code to read, a number that can be said."""
    pim.doing(task="found", place=f"place:{home_leg(book).from_place_id}", words="Fjellmark Hall")

    def keep(page):
        page.get_by_role("button", name="No label").click()
        page.fill("[name=code]", "WRE-02")
        page.get_by_role("button", name="Keep it").click()

    pim.hears(keep)
    (entry,) = sent(pim)
    assert str(entry.label.item) == "WRE-02"
