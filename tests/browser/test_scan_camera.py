"""The camera: films of our own labels before a real browser's camera, and what it takes from them."""

from __future__ import annotations

import random
from typing import Any

import pytest
from django.utils import timezone

from inventory import passes
from inventory.access import COOKIE
from inventory.models import Entry
from tests.browser.conftest import Chromium
from tests.browser.phones import Phone, home_leg, until
from tests.filming import Scene, film, with_codes
from tests.filming import frame as picture_of

FAKE = ("--use-fake-ui-for-media-stream", "--use-fake-device-for-media-stream")


@pytest.fixture
def filmed(book, db, tmp_path):
    """filmed(scenes, seconds of each) -> a joined phone whose camera sees them, one after another and round again."""
    made: list[tuple[Phone, Chromium]] = []

    def phone(*scenes: Scene, frames: int = 20) -> Phone:
        path = film(list(scenes), tmp_path / "film.mjpeg", frames=frames)
        chromium = Chromium(*FAKE, f"--use-file-for-fake-video-capture={path}")
        _, token = passes.join(book.passes["tonight"], f"Pim {tmp_path.name}", at=timezone.now())
        one = Phone(chromium, book.url, {COOKIE: token})
        made.append((one, chromium))
        one.join()
        return one

    yield phone
    for one, chromium in made:
        assert one.errors == []
        one.close()
        chromium.close()


def code(thing: Any) -> str:
    return thing.labels.first().code


def taken(phone: Phone) -> list[str]:
    """The codes stored on the phone, in the order they were taken."""
    return phone.js("async () => (await stowbook.outbox.all()).sort((a, b) => a.seq - b.seq).map(row => row.body.code)")


@pytest.fixture
def home(book):
    return home_leg(book)


def test_labels_are_taken_as_they_come_into_view_two_at_once_one_after_another(filmed, book, home):
    cases = [code(book.things[number]) for number in ("HER-05", "HER-06", "HER-09")]
    one = with_codes(Scene("one, turned and blurred", ("case",), side=200, turn=25, blur=1.3), cases[:1])
    two = with_codes(Scene("two", ("case", "case"), side=190), cases[1:])
    pim = filmed(one, two)
    pim.doing(task="load", leg=home.pk)
    pim.do(lambda page: until(page, "performance.getEntriesByName('to the tone').length >= 3"))
    pim.js("() => { stowbook.stopCamera(); }")
    assert set(taken(pim)[:3]) == set(cases)
    times = pim.js("() => performance.getEntriesByName('to the tone').map(one => one.startTime + one.duration)")
    heard = pim.js("async () => (await import('/static/shipping/scan/tones.js')).lengthOf('good')")
    assert heard >= 200
    assert all(later - before >= heard for before, later in zip(times, times[1:], strict=False))
    pim.sends_all()
    assert {entry.place for entry in Entry.objects.filter(device__name=pim.js("() => stowbook.phone.name"))} == {
        home.vehicle.inside
    }


def test_a_label_that_stays_in_view_is_taken_once(filmed, book, home):
    pim = filmed(with_codes(Scene("still", ("case",)), [code(book.things["HER-13"])]))
    pim.doing(task="load", leg=home.pk)
    pim.do(lambda page: until(page, "Boolean(stowbook.said)"))
    looked = pim.js("() => stowbook.camera.frames")
    pim.do(lambda page: until(page, f"stowbook.camera.frames > {looked} + 15"))
    assert len(taken(pim)) == 1


def test_the_bay_walk_reads_bare_drive_codes_and_says_whose_a_wrong_one_is(filmed, book):
    drive = book.drive("CURLEW-1", "D")
    pim = filmed(with_codes(Scene("drive", ("drive",), level="H", side=140), [code(drive)]))
    frame = pim.js("() => stowbook.day.frames()[0].place")
    pim.doing(task="fit", frame=frame, bay="C")
    pim.do(lambda page: until(page, "Boolean(stowbook.said)"))
    assert pim.said() == ("WRONG", "This is CURLEW-1's D. C here is for HERON-1 or HERON-2.")


def test_a_label_that_only_a_still_picture_reads(filmed, book, home, tmp_path):
    pim = filmed(Scene("nothing", ()))
    pim.doing(task="load", leg=home.pk)
    scene = with_codes(Scene("photo", ("case",), side=300, turn=160), [code(book.things["HER-08"])])
    picture_of(scene, random.Random(2)).convert("RGB").save(tmp_path / "label.jpg", quality=90)
    pim.do(lambda page: page.set_input_files(".inputs input[type=file]", tmp_path / "label.jpg"))
    pim.do(lambda page: until(page, "Boolean(stowbook.said)"))
    assert pim.said() == ("GOOD", "HER-08 on Teasel.")


def test_the_browsers_own_reader_is_used_where_there_is_one(filmed, book, home):
    case = code(book.things["HER-10"])
    pim = filmed(Scene("nothing", ()))
    pim.js(
        """(code) => { window.BarcodeDetector = class {
            static async getSupportedFormats() { return ['qr_code']; }
            async detect() { return [{rawValue: code}]; } }; stowbook.decoder = null; }""",
        case,
    )
    pim.doing(task="load", leg=home.pk)
    pim.do(lambda page: until(page, "Boolean(stowbook.said)"))
    assert pim.js("() => stowbook.decoder.name") == "the browser's own"
    assert taken(pim)[0] == case


TORCH = """() => {
  const track = MediaStreamTrack.prototype;
  window.lit = [];
  track.getCapabilities = () => ({torch: %s});
  track.applyConstraints = async (asked) => { window.lit.push(asked.advanced[0].torch); };
}"""


@pytest.mark.parametrize("has", ["true", "false"])
def test_the_torch_is_offered_where_the_camera_has_one_and_switches_it(filmed, home, has):
    """The fake camera has no lamp: its track is made to say that it has, at the edge of the browser; ours is real."""
    pim = filmed(Scene("nothing", ()))
    pim.js(TORCH % has)
    pim.doing(task="load", leg=home.pk)
    pim.do(lambda page: until(page, "stowbook.camera?.frames > 0 && document.getElementById('camera-says').hidden"))
    torch = pim.do(lambda page: page.locator("#torch").is_visible())
    assert torch == (has == "true")
    if torch:
        for _ in range(2):
            pim.do(lambda page: page.click("#torch"))
        assert pim.js("() => window.lit") == [True, False]


def test_sound_camera_and_list_are_tried_when_somebody_joins(filmed, book):
    case = code(book.things["HER-10"])
    pim = filmed(with_codes(Scene("one", ("case",), side=240), [case]))

    def try_all(page: Any) -> tuple[list[Any], str, str]:
        page.evaluate("() => { window.buzzed = []; navigator.vibrate = (buzz) => { buzzed.push(buzz); }; }")
        page.evaluate("stowbook.go('check')")
        for button in page.locator(".tones button").all():
            button.click()
        buzzed = page.evaluate("buzzed")
        page.get_by_role("button", name="Test the camera").click()
        page.get_by_text("Good to go.").wait_for()
        return buzzed, page.locator(".test p").inner_text(), page.inner_text("main")

    buzzed, read, page = pim.do(try_all)
    assert len({tuple(one) for one in buzzed}) == 4
    assert case in read
    assert "The list is on this phone:" in page
    assert taken(pim) == []
