"""Each task of the scan page on tonight's load-out: what it says, what it stores, and that the book takes it so."""

from __future__ import annotations

import pytest
from django.utils import timezone

from inventory import passes
from inventory.access import COOKIE
from inventory.models import Entry, Holding
from tests.browser.phones import Phone, home_leg, until
from tests.inventory.test_photos import picture


@pytest.fixture(scope="module")
def phone(chromium, book):
    """One phone on a pass that may do everything a pass may."""
    now = timezone.now()
    wide = passes.make("FMC", verbs=passes.PASS_VERBS, start=now, hours=24, by="Ida Penrake", at=now)
    _, token = passes.join(wide, "Pim tasks", at=now)
    one = Phone(chromium, book.url, {COOKIE: token})
    one.join()
    yield one
    assert one.errors == []
    one.close()


FRESH = "async () => { stowbook.day.done.clear(); stowbook.last = null; stowbook.said = null; }"


@pytest.fixture
def pim(phone, db):
    """The phone, fresh: nothing done yet that a test before did, for its entries are gone too."""
    phone.js(FRESH)
    yield phone
    phone.sends_all()  # what a failed test left unsent would otherwise arrive in the next one


def code(thing) -> str:
    return thing.labels.first().code


def sent(pim: Phone) -> list[Entry]:
    """What this test's scans became, in the order they were made."""
    pim.sends_all()
    rows = Entry.objects.filter(device__name="Pim tasks").order_by("device_seq").select_related("label__item", "place")
    return list(rows)


def verbs(entries: list[Entry]) -> list[str]:
    return [entry.verb for entry in entries]


def press(pim: Phone, name: str) -> None:
    """Press what leads to a question or a form; what leads to an answer is `pressed`."""
    pim.do(lambda page: page.get_by_role("button", name=name, exact=True).first.click())


def pressed(pim: Phone, name: str) -> None:
    """Press a button that the phone answers, until it has."""
    pim.hears(lambda page: page.get_by_role("button", name=name, exact=True).first.click())


def big(pim: Phone) -> int:
    return int(pim.do(lambda page: page.inner_text(".left .big")))


def put(pim: Phone, thing, place: str, bay: str) -> None:
    """Let the phone believe that it put a thing there."""
    pim.js(
        "([code, place, bay]) => stowbook.day.done.set(code, {place, bay, at: '', by: ''})", [code(thing), place, bay]
    )


def test_loading_counts_down_and_names_where_a_stray_goes(pim, book):
    leg = home_leg(book)
    pim.doing(task="load", leg=leg.pk)
    before = big(pim)
    pim.handheld("HER-05")
    assert big(pim) == before - 1
    pim.handheld("CUR-05")
    assert pim.said() == ("WRONG", "CUR-05 goes on no vehicle of FMC by the list. Recorded on Teasel all the same.")
    assert [entry.place for entry in sent(pim)] == [leg.vehicle.inside] * 2


def test_a_case_with_a_place_on_the_accepted_floor_plan_says_it(pim, book):
    leg = home_leg(book)
    pim.js("([leg]) => { stowbook.day.find('HER-08').spots = { [leg]: 'row 3, place 2' }; }", [leg.pk])
    pim.doing(task="load", leg=leg.pk)
    pim.handheld("HER-08")
    assert pim.said() == ("GOOD", "HER-08 on Teasel: row 3, place 2.")
    pim.js("() => { delete stowbook.day.find('HER-08').spots; }")


def test_unloading_puts_a_case_where_the_leg_ends(pim, book):
    leg = home_leg(book)
    pim.doing(task="unload", leg=leg.pk)
    pim.handheld("HER-05", "GEN-03")
    assert pim.said()[0] == "WRONG"
    assert "is not on this list" in pim.said()[1]
    assert [(entry.verb, entry.place) for entry in sent(pim)] == [("unloaded", leg.to_place)] * 2


def test_a_count_asks_for_the_seal_without_standing_in_the_way(pim, book):
    pim.doing(task="count", leg=home_leg(book).pk)
    pim.handheld("HER-05")
    pressed(pim, "Seal 004471: it is")
    pim.handheld("HER-06")
    press(pim, "Other seal")

    def other(page):
        page.fill("[name=seal]", "004999")
        page.get_by_role("button", name="That is the number").click()
        page.get_by_text("seal 004472 was expected, 004999 is on it").first.wait_for()
        page.get_by_text("The driver wants a signature now").click()
        return page.inner_text("#left")

    assert "contents not checked" in pim.do(other)
    found = sent(pim)
    assert verbs(found) == ["unloaded", "seen", "unloaded", "seen"]
    assert [entry.seal for entry in found if entry.verb == "seen"] == ["004471", "004999"]


LEFT = """([leg, code]) => { stowbook.day.leg(leg).phase = 'on the road'; stowbook.day.find(code).behind = [leg]; }"""
CAME = "([leg, code]) => { stowbook.day.leg(leg).phase = 'loading'; delete stowbook.day.find(code).behind; }"


@pytest.mark.parametrize("task", ["count", "unload"])
def test_what_comes_off_is_what_left_and_what_stayed_is_named_apart(pim, book, task):
    leg = home_leg(book)
    pim.doing(task=task, leg=leg.pk)
    all_of_them = big(pim)
    try:
        pim.js(LEFT, [leg.pk, "HER-09"])
        pim.js("() => stowbook.go('scan')")
        assert big(pim) == all_of_them - 1
        words = "It left without HER-09: not counted here. If one is here after all, scan it."
        assert pim.do(lambda page: page.inner_text(".behind")) == words
        pim.handheld("HER-09")
        assert pim.said()[0] == "GOOD"
        assert big(pim) == all_of_them - 1
        assert pim.do(lambda page: page.locator(".behind").count()) == 0
    finally:
        pim.js(CAME, [leg.pk, "HER-09"])


def test_what_is_still_to_count_off_is_offered_before_what_is_done(pim, book):
    """The way out, all of it off days ago, stands behind the way home that has just come."""
    leg = home_leg(book)

    def offered(page):
        page.evaluate("stowbook.go('choose', {task: 'count'})")
        return [words.replace("\n", " ") for words in page.locator(".tasks button").all_inner_texts()]

    out = "FMC: Mill Yard to Fjellmark Hall"
    assert pim.do(offered) == [f"Teasel {out}", f"Meadowrue {out}"]
    pim.js("leg => { stowbook.day.leg(leg).phase = 'arrived'; }", leg.pk)
    try:
        assert pim.do(offered)[0] == "Teasel FMC: Fjellmark Hall to Mill Yard"
    finally:
        pim.js("leg => { stowbook.day.leg(leg).phase = 'loading'; }", leg.pk)
    out_leg = pim.js("() => stowbook.day.list.legs.find(leg => leg.vehicle === 'Teasel').pk")
    pim.doing(task="count", leg=out_leg)
    assert pim.do(lambda page: page.inner_text(".left")) == "0 still to count"


def test_a_list_that_knows_no_departure_says_so_and_can_be_fetched(pim, book):
    leg = home_leg(book)
    pim.doing(task="count", leg=leg.pk)

    def fetches(page):
        said = page.inner_text(".behind p")
        page.get_by_role("button", name="Fetch the list again").click()
        page.get_by_role("button", name="Fetched: it still does not say so").wait_for()
        return said

    assert pim.do(fetches) == ("By the list on this phone it has not left yet, so what stayed behind is counted too.")
    pim.doing(task="load", leg=leg.pk)
    assert pim.do(lambda page: page.locator(".behind").count()) == 0


def test_packing_names_the_right_case_of_what_is_put_in_the_wrong_one(pim, book):
    keyboard = next(item for item in book.home_items("HER-06") if item.type.kind == "keyboard")
    pim.doing(task="pack")
    pim.handheld("HER-11", code(keyboard))
    assert pim.said() == ("WRONG", f"{keyboard} goes in HER-06. Recorded in HER-11 all the same.")
    pim.handheld("HER-06", code(keyboard))
    assert pim.said()[0] == "GOOD"
    assert [str(entry.label.item) for entry in sent(pim)][::2] == ["HER-11", "HER-06"]
    assert Holding.objects.get(item=keyboard).place == book.inside("HER-06")


def test_two_drives_of_one_bay_in_a_box_are_both_kept_and_said(pim, book):
    drive, other = book.drive("HERON-2", "A"), book.drive("HERON-2", "B")
    box = f"place:{book.inside('HER-04').pk}"
    put(pim, drive, "place:1", "")
    put(pim, other, box, "A")
    pim.doing(task="pack")
    pim.handheld("HER-04", code(drive))
    assert pim.said()[0] == "WRONG"
    assert pim.said()[1].startswith("Two As:")
    assert verbs(sent(pim)) == ["seen", "packed"]


def test_a_case_is_sealed_with_the_number_that_is_read(pim, book):
    pim.doing(task="seal")
    pim.handheld("HER-13")

    def seal(page):
        page.fill("[name=seal]", "005001")
        page.get_by_role("button", name="Sealed").click()
        page.get_by_text("HER-13 sealed with 005001.").first.wait_for()

    pim.do(seal)
    last = sent(pim)[-1]
    assert (last.verb, last.seal, str(last.label.item)) == ("sealed", "005001", "HER-13")


def test_a_broken_seal_says_who_why_the_old_number_and_the_new_one_in_one_act(pim, book):
    pim.doing(task="break")
    pim.handheld("HER-06")

    def fill(page):
        page.get_by_label("Customs opened it").check()
        page.fill("[name=now]", "005002")
        page.get_by_role("button", name="Seal is broken").click()
        page.get_by_text("seal 005002 from now on").first.wait_for()

    pim.do(fill)
    _, broken, sealed = sent(pim)
    assert (broken.verb, broken.seal, broken.note) == ("seal broken", "004472", "customs")
    assert (sealed.verb, sealed.seal, sealed.act) == ("sealed", "005002", broken.act)
    assert sealed.happened_at > broken.happened_at


def test_the_bay_walk_goes_on_by_itself_and_stays_where_it_is_wrong(pim, book):
    frame = pim.js("() => stowbook.day.frames()[0].place")
    pim.doing(task="fit", frame=frame, bay="A")
    pim.handheld(code(book.drive("HERON-1", "A")))
    assert pim.said()[0] == "GOOD"
    assert pim.js("() => stowbook.doing.bay") == "B"
    pim.handheld(code(book.drive("HERON-1", "C")))
    assert pim.said() == ("WRONG", "This is HERON-1's C, not B.")
    assert pim.js("() => stowbook.doing.bay") == "B"
    press(pim, "B stays empty")
    pim.do(lambda page: until(page, "stowbook.doing.bay === 'C'"))
    assert [(entry.verb, entry.bay) for entry in sent(pim)] == [("fitted", "A"), ("fitted", "B")]


def test_pulling_drives_into_the_wrong_box_says_whose_they_are(pim, book):
    drive = book.drive("CURLEW-1", "A")
    pim.doing(task="pull")
    pim.handheld("HER-03", code(drive))
    assert pim.said()[0] == "WRONG"
    assert pim.said()[1].startswith("This is CURLEW-1's A.")
    seen, pulled, packed = sent(pim)
    assert (seen.verb, pulled.verb, packed.verb) == ("seen", "pulled", "packed")
    assert (packed.place, packed.act) == (book.inside("HER-03"), pulled.act)


def test_a_swap_is_two_scans_and_one_act(pim, book):
    old, new = book.drive("HERON-1", "D"), book.drive("FLOAT-1", "A")
    put(pim, old, pim.js("() => stowbook.day.frames()[0].place"), "D")
    pim.doing(task="swap")
    pim.handheld(code(old))
    assert pim.said()[1].endswith(", D. Scan the drive that goes in.")
    pim.handheld(code(new))
    found = sent(pim)
    act = [entry for entry in found if entry.act == found[-1].act]
    assert [(entry.verb, entry.label.item_id, entry.bay) for entry in act] == [
        ("pulled", old.pk, ""), ("packed", old.pk, "pocket"), ("faulted", old.pk, ""), ("fitted", new.pk, "D"),
    ]  # fmt: skip


def test_the_wrong_twin_is_told_by_its_serial(pim, book):
    panels = {item["system"]: item for item in pim.js("() => stowbook.day.list.items.filter(one => one.twin)")}
    pim.doing(task="twins", system="Heron")
    pim.handheld(panels["Curlew"]["code"])
    assert pim.said()[0] == "WRONG"
    assert "This is Curlew's" in pim.said()[1]
    pim.handheld(panels["Heron"]["code"])
    assert pim.said()[0] == "GOOD"
    assert verbs(sent(pim)) == ["seen", "seen"]


def test_last_look_lists_what_gets_left_and_takes_an_answer_for_each(pim, book):
    pim.doing(task="look", place=f"place:{home_leg(book).from_place_id}", words="Fjellmark Hall")
    before = big(pim)
    pim.do(lambda page: page.get_by_text("Which", exact=True).click())  # it stays open from answer to answer
    for answer in ("Have it", "Not here"):
        pressed(pim, answer)
    assert big(pim) == before - 2
    assert [(entry.verb, entry.grade) for entry in sent(pim)] == [("seen", "tick"), ("missed", "tick")]


def test_checking_in_puts_a_thing_in_the_store(pim, book):
    store = pim.js("() => stowbook.day.list.stores.find(one => one.words === 'Mill Yard')")
    pim.doing(task="checkin", place=store["place"], words=store["words"])
    pim.handheld("HER-05")
    assert pim.said() == ("GOOD", "HER-05 at Mill Yard.")
    assert [(entry.verb, str(entry.place)) for entry in sent(pim)] == [("received", "Mill Yard")]


def test_a_found_thing_without_a_label_gets_a_code_to_write_on_it(pim, book):
    pim.doing(task="found", place=f"place:{home_leg(book).from_place_id}", words="Fjellmark Hall")

    def keep(page):
        page.get_by_role("button", name="No label").click()
        page.fill("[name=words]", "A keyboard, no tag")
        page.get_by_role("button", name="Keep it").click()
        page.get_by_text("Write that on a piece of tape").first.wait_for()

    pim.do(keep)
    (entry,) = sent(pim)
    assert (entry.verb, entry.label.item, entry.note) == ("found", None, "A keyboard, no tag")
    assert entry.label.code.startswith("NOLABEL-")


def test_a_torn_label_is_known_by_the_tail_of_the_serial(pim, book):
    panel = pim.js("() => stowbook.day.list.items.find(one => one.twin && one.system === 'Heron')")
    pim.doing(task="found", place=f"place:{home_leg(book).from_place_id}", words="Fjellmark Hall")

    def keep(page):
        page.get_by_role("button", name="No label").click()
        page.fill("[name=code]", panel["serial"][-5:].lower())
        page.get_by_role("button", name="Keep it").click()

    pim.hears(keep)
    assert [entry.label.code for entry in sent(pim)] == [panel["code"]]


def report_it(page):
    page.get_by_label("Comes and goes").check()
    page.get_by_label("Partly").check()
    page.get_by_role("button", name="Report it").click()
    page.get_by_text("is reported broken").first.wait_for()


def test_a_broken_thing_is_four_taps(pim, book):
    pim.doing(task="broken")
    pim.handheld("HER-05")

    pim.do(report_it)
    (entry,) = sent(pim)
    assert (entry.verb, entry.note) == ("faulted", "comes and goes; works: partly")


def test_the_photo_of_a_fault_arrives_with_its_report(pim, book):
    pim.doing(task="broken")
    pim.handheld("HER-05")

    def tell(page):
        photo = {"name": "wheel.jpg", "mimeType": "image/jpeg", "buffer": picture((640, 480)).read()}
        page.set_input_files("[name=photo]", photo)
        report_it(page)

    pim.do(tell)
    (entry,) = sent(pim)
    assert entry.photo is not None and entry.photo.taken_by == entry.by
    assert pim.js("() => stowbook.outbox.photos().then((kept) => kept.length)") == 0


def test_a_scan_that_no_task_makes_sense_of_is_kept_as_seen(pim, book):
    pim.doing(task="load", leg=999_999)
    pim.handheld("HER-05")
    assert pim.said()[0] == "UNKNOWN"
    assert verbs(sent(pim)) == ["seen"]


def test_a_leg_that_a_newer_list_no_longer_names_can_still_be_loaded(pim, book):
    leg = pim.js("(pk) => stowbook.day.leg(pk)", home_leg(book).pk)
    pim.doing(task="load", leg=999_999, ride={**leg, "pk": 999_999})
    pim.handheld("HER-05")
    assert verbs(sent(pim)) == ["loaded"]
