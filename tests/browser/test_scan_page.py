"""A phone on the scan page, with the server behind it: offline, again, refused, full, old, and taken back."""

from __future__ import annotations

import json
from datetime import timedelta
from uuid import UUID

import pytest
from django.utils import timezone
from playwright.sync_api import Page, Route

from inventory import passes
from inventory.access import COOKIE
from inventory.models import Device, Entry, Holding, SetAside
from tests.browser.phones import Phone, home_leg, until, wait_until

SCANS = "**/api/scans/"


@pytest.fixture
def joined(book, db):
    """joined(name) -> the cookie of a new phone on tonight's pass."""

    def join(name: str) -> dict[str, str]:
        device, token = passes.join(book.passes["tonight"], name, at=timezone.now())
        return {COOKIE: token}

    return join


@pytest.fixture
def phones(chromium, book, joined):
    """phones(name) -> a phone that has joined and has the list; closed after the test."""
    made: list[Phone] = []

    def one(name: str = "Pim Osgood", join: bool = True) -> Phone:
        phone = Phone(chromium, book.url, joined(name))
        made.append(phone)
        if join:
            phone.join()
        return phone

    yield one
    for phone in made:
        assert phone.errors == []
        phone.close()


@pytest.fixture
def leg(book):
    return home_leg(book)


def entries_of(name: str) -> list[Entry]:
    return list(Entry.objects.filter(device__name=name).order_by("device_seq").select_related("label__item", "place"))


def test_a_page_of_which_a_file_was_lost_says_so_and_is_kept_a_little_later(phones):
    pim = phones("Pim far off", join=False)
    pim.cable.loses = b".wasm"
    pim.open()
    told = "document.body.innerText.includes('is not kept on the phone yet')"
    pim.do(lambda page: until(page, told))
    pim.cable.loses = b""
    pim.do(lambda page: until(page, "Boolean(navigator.serviceWorker.controller)"))
    pim.do(lambda page: until(page, f"!{told}"))
    pim.cable.cut()
    pim.open()


def test_scans_made_without_a_network_from_a_cold_start_arrive_once_each(phones, leg):
    pim = phones("Pim cold")
    pim.offline()
    pim.reopen()
    pim.doing(task="load", leg=leg.pk)
    pim.handheld("HER-05", "HER-06")
    assert pim.said() == ("GOOD", "HER-06 on Teasel.")
    pim.reopen()
    pim.handheld("GEN-03")
    assert pim.said()[0] == "WRONG"
    assert pim.said()[1] == "GEN-03 goes on Meadowrue. Recorded on Teasel all the same."
    assert pim.count() == "3 saved on this phone, 3 not yet sent"
    assert entries_of("Pim cold") == []
    pim.offline(False)
    pim.sends_all()
    assert pim.count() == "3 saved on this phone, all sent"
    sent = entries_of("Pim cold")
    assert [(entry.verb, str(entry.label.item), entry.device_seq) for entry in sent] == [
        ("loaded", "HER-05", 1), ("loaded", "HER-06", 2), ("loaded", "GEN-03", 3),
    ]  # fmt: skip
    stamps = [entry.happened_at for entry in sent]
    assert stamps == sorted(stamps) and len(set(stamps)) == 3
    assert all(UUID(str(entry.id)).version == 7 and entry.offset_ms is not None for entry in sent)
    assert {entry.reference for entry in sent} == {"FMC"}


def test_the_four_answers_each_with_their_word(phones, leg):
    pim = phones("Pim four")
    pim.doing(task="load", leg=leg.pk)
    words = []
    for text in ("HER-09", "GEN-02", "NEVERSEEN9"):
        pim.handheld(text)
        words.append(pim.said()[0])
    pim.handheld("HER-09")
    words.append(pim.said()[0])
    assert words == ["GOOD", "WRONG", "UNKNOWN", "ALREADY DONE"]


BUZZES = "() => { window.buzzes = []; navigator.vibrate = (pattern) => buzzes.push(pattern.length); }"
BUZZED = {"good": 1, "already done": 3, "wrong": 3, "unknown": 7}


def test_a_trigger_that_fires_twice_is_one_scan_and_told_twice(phones, leg):
    pim = phones("Pim bounce")
    pim.doing(task="load", leg=leg.pk)
    pim.js(BUZZES)
    pim.do(lambda page: (page.keyboard.type("HER-11"), page.keyboard.press("Enter"), page.keyboard.type("HER-11")))
    pim.hears(lambda page: page.keyboard.press("Enter"))
    pim.do(lambda page: until(page, "stowbook.said.word === 'already done'"))
    assert pim.said() == ("ALREADY DONE", "HER-11 on Teasel. Scanned again, kept once.")
    assert pim.js("() => buzzes") == [BUZZED["good"], BUZZED["already done"]]
    assert pim.count().startswith("1 saved")


@pytest.mark.parametrize(("code", "word"), [("GEN-03", "wrong"), ("NEVERSEEN8", "unknown")])
def test_what_was_no_good_is_no_better_scanned_twice(phones, leg, code, word):
    pim = phones(f"Pim {word}")
    pim.doing(task="load", leg=leg.pk)
    pim.handheld(code)
    first = pim.said()
    pim.handheld(code)
    assert pim.said() == (word.upper(), f"{first[1]} Scanned again, kept once.")
    assert pim.count().startswith("1 saved")


def test_the_same_case_after_another_is_a_scan_of_its_own(phones, leg):
    """HER-05, HER-06, HER-05 as fast as hands go: each is told and kept."""
    pim = phones("Pim between")
    pim.doing(task="load", leg=leg.pk)
    pim.js(BUZZES)
    pim.handheld("HER-05", "HER-06", "HER-05")
    assert pim.said()[0] == "ALREADY DONE"
    assert pim.said()[1].startswith("HER-05: already on Teasel at ")
    assert pim.js("() => buzzes") == [BUZZED["good"], BUZZED["good"], BUZZED["already done"]]
    pim.sends_all()
    assert [str(entry.label.item) for entry in entries_of("Pim between")] == ["HER-05", "HER-06", "HER-05"]


def test_a_drive_read_twice_is_fitted_once_though_the_next_bay_is_due(phones):
    pim = phones("Pim fits")
    pim.doing(task="fit")
    frame = pim.js("() => stowbook.day.frames()[0]")
    due = "bay => stowbook.day.things.find(one => one.set === bay.sets[0] && one.bay === bay.bay).code"
    drive = pim.js(due, frame["bays"][0])
    pim.handheld(frame["code"], drive, drive)
    word, sentence = pim.said()
    assert word == "ALREADY DONE" and sentence.endswith("Scanned again, kept once.")
    assert pim.js("() => stowbook.doing.bay") == frame["bays"][1]["bay"]
    pim.sends_all()
    assert [entry.verb for entry in entries_of("Pim fits")] == ["seen", "fitted"]


def test_what_was_undone_can_be_scanned_anew_at_once(phones, leg):
    pim = phones("Pim undoes")
    pim.doing(task="load", leg=leg.pk)
    pim.handheld("HER-09")
    pim.hears(lambda page: page.get_by_role("button", name="Undo", exact=True).click())
    pim.handheld("HER-09")
    assert pim.said() == ("GOOD", "HER-09 on Teasel.")
    pim.sends_all()
    assert [entry.verb for entry in entries_of("Pim undoes")] == ["loaded", "corrected", "loaded"]


def test_a_scan_is_on_the_disk_before_the_tone(phones, leg):
    pim = phones("Pim tone")
    pim.doing(task="load", leg=leg.pk)
    pim.offline()
    pim.js(
        """() => { navigator.vibrate = () => {
            const open = indexedDB.open('stowbook-scan');
            open.onsuccess = () => { const all = open.result.transaction('scans').objectStore('scans').count();
                all.onsuccess = () => { window.atTheTone = all.result; open.result.close(); }; }; }; }"""
    )
    pim.handheld("HER-05")
    assert pim.do(lambda page: until(page, "window.atTheTone")) == 1


def test_an_answer_lost_on_the_way_back_doubles_nothing(phones, leg):
    pim = phones("Pim lost")
    pim.doing(task="load", leg=leg.pk)
    lost = {"left": 2}

    def lose(route: Route) -> None:
        if lost["left"]:
            lost["left"] -= 1
            route.fetch()
            route.abort()
        else:
            route.continue_()

    pim.do(lambda page: page.route(SCANS, lose))
    pim.handheld("HER-05", "HER-06")
    for _ in range(3):
        pim.js("() => stowbook.sender.soon()")
    pim.sends_all()
    assert lost["left"] == 0
    assert [entry.device_seq for entry in entries_of("Pim lost")] == [1, 2]


@pytest.mark.parametrize("status", [500, 503])
def test_a_server_in_trouble_is_asked_again_later(phones, leg, status):
    pim = phones(f"Pim {status}")
    pim.doing(task="load", leg=leg.pk)
    pim.do(lambda page: page.route(SCANS, lambda route: route.fulfill(status=status, body="no")))
    pim.handheld("HER-05")
    pim.do(lambda page: until(page, "stowbook.sender.state === 'waiting'"))
    assert pim.count() == "1 saved on this phone, 1 not yet sent"
    assert pim.js("() => stowbook.sender.notBefore > Date.now()")
    pim.do(lambda page: page.unroute(SCANS))
    pim.sends_all()
    assert len(entries_of(f"Pim {status}")) == 1


def test_one_scan_that_no_server_can_read_does_not_hold_the_others_up(phones, leg):
    pim = phones("Pim stuck")
    pim.doing(task="load", leg=leg.pk)

    def refuse(route: Route) -> None:
        scans = json.loads(route.request.post_data)["scans"]
        bad = any(scan["device_seq"] == 2 for scan in scans)
        route.fulfill(status=400, json={"error": "It is no upload."}) if bad else route.continue_()

    pim.offline()
    pim.handheld("HER-05", "HER-06", "HER-08")
    pim.do(lambda page: page.route(SCANS, refuse))
    pim.offline(False)
    pim.sends_all()
    assert [entry.device_seq for entry in entries_of("Pim stuck")] == [1, 3]
    assert pim.count() == "3 saved on this phone, all sent, 1 refused"
    pim.do(lambda page: page.click("#count"))
    pim.do(lambda page: page.get_by_text("It is no upload.").first.wait_for())


def test_leaving_with_unsent_scans_warns(phones, leg):
    pim = phones("Pim leaving")
    pim.doing(task="load", leg=leg.pk)
    pim.offline()
    pim.handheld("HER-05")
    asked: list[str] = []

    def leave(page: Page) -> None:
        page.click("#title")
        page.once("dialog", lambda dialog: (asked.append(dialog.type), dialog.dismiss()))
        page.close(run_before_unload=True)
        wait_until(page, lambda: asked)

    pim.do(leave)
    assert asked == ["beforeunload"]
    assert pim.count() == "1 saved on this phone, 1 not yet sent"


def test_undo_takes_an_act_back_by_an_entry_and_the_place_with_it(phones, leg, book):
    pim = phones("Pim undo")
    case = book.things["HER-13"]
    before = Holding.objects.get(item=case).place
    pim.doing(task="load", leg=leg.pk)
    pim.handheld("HER-13")
    pim.sends_all()
    assert Holding.objects.get(item=case).place == leg.vehicle.inside
    pim.do(lambda page: page.get_by_role("button", name="Undo").click())
    pim.do(lambda page: page.get_by_text("Undone: HER-13").wait_for())
    pim.sends_all()
    loaded, corrected = entries_of("Pim undo")
    assert (corrected.verb, corrected.corrects) == ("corrected", loaded.act)
    assert Holding.objects.get(item=case).place == before


def test_the_last_twenty_acts_can_be_taken_back_one_after_another_and_no_more(phones, leg):
    pim = phones("Pim twenty")
    pim.doing(task="load", leg=leg.pk)
    pim.offline()
    pim.js("() => { stowbook.wantsCamera = false; stowbook.stopCamera(); }")
    made = "async () => { for (let n = 10; n < 32; n++) await stowbook.take(`NEVERSEEN${n}`, 'handheld'); }"
    pim.js(made)
    for _ in range(21):
        pim.hears(lambda page: page.get_by_role("button", name="Undo").click())
    assert pim.said() == ("ALREADY DONE", "Nothing left to undo.")
    pim.offline(False)
    pim.sends_all()
    rows = entries_of("Pim twenty")
    loaded, corrected = rows[:22], rows[22:]
    assert [entry.corrects for entry in corrected] == [entry.act for entry in reversed(loaded[2:])]


def test_a_pass_that_was_ended_loses_no_scan(phones, leg, book):
    day_pass = passes.make("FMC", verbs=["loaded"], start=timezone.now(), hours=24, by="Ida Penrake", at=timezone.now())
    device, token = passes.join(day_pass, "Pim ended", at=timezone.now())
    pim = phones("Pim unused", join=False)
    pim.chromium.do(lambda: pim.context.add_cookies([{"name": COOKIE, "value": token, "url": pim.url}]))
    pim.join()
    pim.doing(task="load", leg=leg.pk)
    pim.offline()
    ended = timezone.now() - timedelta(seconds=2)  # more than the phone's clock is measured wrong on a busy machine
    passes.revoke(day_pass, by="Ida Penrake", at=ended)
    pim.handheld("HER-05")
    pim.offline(False)
    pim.sends_all()
    assert SetAside.objects.get(device=device).why == "held"
    pim.do(lambda page: page.click("#count"))
    pim.do(lambda page: page.get_by_text("waiting for the kit manager").first.wait_for())


FULL = """() => {
    window.kept = {add: IDBObjectStore.prototype.add, put: IDBObjectStore.prototype.put};
    const full = () => { throw new DOMException('no room', 'QuotaExceededError'); };
    Object.assign(IDBObjectStore.prototype, {add: full, put: full});
}"""


def test_a_full_store_is_said_at_once_and_what_it_refused_is_stored_when_there_is_room(phones, leg):
    pim = phones("Pim full")
    pim.doing(task="load", leg=leg.pk)
    pim.offline()

    pim.js(FULL)
    pim.handheld("HER-05")
    assert pim.said()[0] == "NOT SAVED"
    pim.do(lambda page: page.get_by_text("This phone's store is full.").wait_for())
    assert pim.count() == "1 NOT saved on this phone, only held by this page. 1 not yet sent"
    pim.do(lambda page: page.get_by_role("button", name="Hand over").click())
    pim.do(lambda page: page.wait_for_selector("canvas[data-frame]"))
    pim.js("() => Object.assign(IDBObjectStore.prototype, window.kept)")
    pim.js("() => stowbook.outbox.tidy()")
    assert pim.count() == "1 saved on this phone, 1 not yet sent"
    pim.offline(False)
    pim.sends_all()
    assert [entry.device_seq for entry in entries_of("Pim full")] == [1]


def test_what_the_store_refuses_is_sent_from_memory_and_no_step_is_used_twice(phones, leg):
    pim = phones("Pim memory")
    pim.doing(task="load", leg=leg.pk)
    pim.handheld("HER-09")
    pim.reopen()
    pim.doing(task="load", leg=leg.pk)
    pim.js(FULL)
    pim.handheld("HER-05", "HER-06")
    pim.sends_all()
    pim.js("() => Object.assign(IDBObjectStore.prototype, window.kept)")
    pim.js("() => stowbook.outbox.tidy()")
    pim.reopen()
    pim.doing(task="load", leg=leg.pk)
    pim.handheld("HER-08")
    pim.sends_all()
    assert [entry.device_seq for entry in entries_of("Pim memory")] == [1, 2, 3, 4]


OLD_STORE = """async ({phone, scans}) => {
    stowbook.outbox.db.close();
    await new Promise(ok => { indexedDB.deleteDatabase('stowbook-scan').onsuccess = ok; });
    const { open, transact, done } = await import('/static/shipping/scan/store.js');
    const db = await open(() => {}, 1);
    await transact(db, ['queue', 'phone'], 'readwrite', async ({queue, phone: drawer}) => {
        for (const scan of scans) await done(queue.put(scan));
        await done(drawer.put(phone, 'phone'));
        await done(drawer.put(stowbook.day.list, 'day'));
        await done(drawer.put({seq: scans.length, stamp: Date.now(), id: scans.at(-1).id}, 'clock'));
    });
    db.close();
}"""


def test_a_queue_of_an_old_page_is_carried_into_the_new_store_and_sent(phones, leg):
    pim = phones("Pim old")
    phone = pim.js("() => stowbook.phone")
    at = timezone.now().isoformat()
    scans = [
        {"id": f"0198f5a2-0000-7000-8000-00000000000{n}", "sent": n == 1, "body": {
            "id": f"0198f5a2-0000-7000-8000-00000000000{n}", "verb": "seen", "code": f"HER-0{n}", "device_seq": n,
            "taken_at": at, "happened_at": at,
        }}
        for n in (1, 2, 3)
    ]  # fmt: skip
    pim.js(OLD_STORE, {"phone": phone, "scans": scans})
    pim.offline()
    pim.reopen()
    assert pim.count() == "3 saved on this phone, 2 not yet sent"
    pim.doing(task="load", leg=leg.pk)
    pim.handheld("HER-05")
    pim.offline(False)
    pim.sends_all()
    assert [(entry.device_seq, entry.verb) for entry in entries_of("Pim old")] == [
        (2, "seen"), (3, "seen"), (4, "loaded"),
    ]  # fmt: skip


def test_a_page_that_finds_a_newer_store_touches_nothing_and_says_so(phones):
    pim = phones("Pim newer")
    pim.js(
        """async () => { stowbook.outbox.db.close(); await new Promise(ok => {
            const newer = indexedDB.open('stowbook-scan', 99);
            newer.onsuccess = () => { newer.result.close(); ok(); }; }); }"""
    )
    pim.do(lambda page: page.reload())
    pim.do(lambda page: page.get_by_text("A newer page has been on this phone.").wait_for())
    assert pim.js("async () => (await indexedDB.databases()).find(one => one.name === 'stowbook-scan').version") == 99


def test_unsent_scans_go_to_another_phone_and_from_both_to_the_book_once(phones, leg):
    pim, ana = phones("Pim giving"), phones("Ana taking")
    pim.doing(task="load", leg=leg.pk)
    pim.offline()
    pim.handheld("HER-05", "HER-06", "HER-07")
    frames = pim.js(
        """async () => (await import('/static/shipping/scan/packets.js')).pack(await stowbook.outbox.unsent())"""
    )
    pim.do(lambda page: page.evaluate("stowbook.go('give')"))
    assert pim.do(lambda page: page.wait_for_selector("canvas[data-frame]").get_attribute("data-frame")) in frames
    ana.js("() => stowbook.go('receive')")
    for frame in reversed(frames):
        ana.js("(frame) => stowbook.take(frame, 'camera')", frame)
    ana.do(lambda page: page.get_by_text("3 scans taken over.").wait_for())
    ana.sends_all()
    sent = entries_of("Pim giving")
    assert [entry.device_seq for entry in sent] == [1, 2, 3]
    assert {entry.carried_by for entry in sent} == {Device.objects.get(name="Ana taking")}
    pim.offline(False)
    pim.sends_all()
    assert entries_of("Pim giving") == sent
    assert SetAside.objects.filter(device__name__in=["Pim giving", "Ana taking"]).count() == 0


def test_joined_again_the_phone_still_sends_what_it_did_under_its_old_name(phones, leg, book):
    pim = phones("Pim before")
    pim.doing(task="load", leg=leg.pk)
    pim.offline()
    pim.handheld("HER-05")
    pim.offline(False)
    pim.do(lambda page: page.route(SCANS, lambda route: route.abort()))

    def again(page: Page) -> None:
        page.evaluate("stowbook.go('join', {again: true})")
        page.fill("[name=code]", book.passes["tonight"].code.lower())
        page.fill("[name=name]", "Pim after")
        page.get_by_role("button", name="Join").click()
        page.get_by_role("button", name="Start").wait_for()
        page.unroute(SCANS)

    pim.do(again)
    pim.doing(task="load", leg=leg.pk)
    pim.handheld("HER-06")
    pim.sends_all()
    assert [entry.device_seq for entry in entries_of("Pim before")] == [1]
    assert [entry.device_seq for entry in entries_of("Pim after")] == [1]


def test_a_typed_slip_is_not_taken_until_the_bearer_insists(phones, leg):
    pim = phones("Pim typing")
    pim.doing(task="load", leg=leg.pk)

    def type_it(page: Page) -> None:
        page.fill("[name=code]", "K7MFXW4")
        page.get_by_role("button", name="Take it").click()
        page.get_by_text("K7MFXW4 does not read right").wait_for()

    pim.do(type_it)
    assert pim.count().startswith("0 saved")
    pim.do(lambda page: page.get_by_role("button", name="Keep it all the same").click())
    pim.do(lambda page: until(page, "document.getElementById('count').textContent.startsWith('1 saved')"))
