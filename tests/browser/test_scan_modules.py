"""The scan page's modules on their own, in the browser that runs them, against published vectors and our own tables."""

from __future__ import annotations

import hashlib
import json
import random
import zlib
from pathlib import Path
from typing import Any

import pytest
import qrcode
from stdnum.iso7064 import mod_37_36

from inventory.codes import ALPHABET, with_check
from inventory.naming import code_in

TABLE = json.loads((Path(__file__).parent.parent / "inventory" / "says_table.json").read_text())["rows"]
QR_TEXT = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"


@pytest.fixture(scope="module")
def js(visitors):
    """js(module, body, given): run the body of an async function with the module's names at hand."""

    def run(module: str, body: str, given: Any = None) -> Any:
        source = f"async (given) => {{ const m = await import('/static/shipping/scan/{module}.js'); {body} }}"

        def evaluate(page: Any) -> Any:
            if "/scan/" not in page.url:
                page.goto("/scan/")
            return page.evaluate(source, given)

        return visitors.do("stranger", evaluate)

    return run


def test_a_uuid_is_built_as_the_standard_shows(js, db):
    # RFC 9562, appendix A.6: unix_ts_ms 0x017F22E279B0, rand_a 0xCC3, rand_b 0b01 0x8C4DC0C0C07398F.
    noise = [0x0C, 0xC3, 0x18, 0xC4, 0xDC, 0x0C, 0x0C, 0x07, 0x39, 0x8F]
    made = js("uuid7", "return m.uuid7From(0x017F22E279B0, new Uint8Array(given))", noise)
    assert made == "017f22e2-79b0-7cc3-98c4-dc0c0c07398f"
    assert js("uuid7", "return m.timeOf(given)", made) == 0x017F22E279B0


def test_ids_of_one_phone_only_grow_whatever_its_clock_does(js, db):
    times = [1000, 1000, 999, 5, 2000, 2000, 1_800_000_000_000, 3]
    made = js("uuid7", "let last = ''; return given.map(ms => last = m.uuid7(ms, last))", times * 50)
    assert made == sorted(made)
    assert len(set(made)) == len(made)
    assert all(one[14] == "7" and one[19] in "89ab" for one in made)


def test_a_full_id_carries_into_its_time(js, db):
    full = "017f22e2-79b0-7fff-bfff-ffffffffffff"
    assert js("uuid7", "return m.next(given)", full) == "017f22e2-79b1-7000-8000-000000000000"
    assert js("uuid7", "return m.next(given)", "017f22e2-79b0-7cc3-bfff-ffffffffffff") == (
        "017f22e2-79b0-7cc4-8000-000000000000"
    )


def test_the_phone_says_what_the_server_says(js, db):
    said = js("saying", "return given.map(row => m.says(row.doing, row.line, row.code))", TABLE)
    assert said == [{"word": row["says"], "sentence": row["sentence"]} for row in TABLE]


def test_check_characters_agree_with_the_standard(js, db):
    chance = random.Random(3)
    bodies = ["".join(chance.choice(ALPHABET) for _ in range(6)) for _ in range(300)]
    whole = [with_check(body) for body in bodies]
    slips = [code[:n] + chance.choice(ALPHABET) + code[n + 1 :] for code in whole for n in (chance.randrange(7),)]
    found = js("codes", "return given.map(m.isWhole)", whole + slips)
    assert found == [mod_37_36.is_valid(code) for code in whole + slips]
    assert False in found[300:]


@pytest.mark.parametrize(
    "text",
    ["k7mfxw3", " K7M FXW3\n", "https://gear.example.org/T/K7MFXW3", "HTTP://10.0.0.4:8000/T/K7MFXW3/", "HER-07",
     "https://gear.example.org/item/K7MFXW3/"],
)  # fmt: skip
def test_a_code_is_read_from_a_text_as_the_server_reads_it(js, db, text):
    assert js("codes", "return m.codeIn(given)", text) == code_in(text)


def test_base45_and_crc_are_the_published_ones(js, db):
    # RFC 9285, 4.3 and 4.4; CRC-32 check value of the string 123456789.
    encoded = "return given.map(text => m.base45(new TextEncoder().encode(text)))"
    assert js("packets", encoded, ["AB", "Hello!!", "base-45"]) == ["BB8", "%69 VD92EX0", "UJCLQE7W581"]
    assert js("packets", "return new TextDecoder().decode(m.unbase45(given))", "QED8WEX0") == "ietf!"
    assert js("packets", "return m.crc32(new TextEncoder().encode('123456789'))") == "CBF43926"
    assert js("packets", "try { m.unbase45(given); return 'read' } catch (e) { return e.name }", "GGW:") == "RangeError"


def test_a_photo_hash_is_sha256_without_the_browsers_help(js, db):
    # FIPS 180-4; Python's hashlib is the oracle for lengths round the block's edge.
    texts = ["", "abc", *("x" * n for n in (55, 56, 63, 64, 65, 1000))]
    found = js("sha256", "return given.map(text => m.sha256(new TextEncoder().encode(text)))", texts)
    assert found == [hashlib.sha256(text.encode()).hexdigest() for text in texts]
    assert found[1] == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def test_the_symbols_are_those_of_another_encoder(js, db):
    # ISO/IEC 18004; the encoder of the labels is the oracle, itself held to the standard in tests/standards.
    capacities = js("qr", "return Array.from({length: 20}, (_, n) => m.capacity(n + 1))")
    texts = ["".join(QR_TEXT[(n * 7 + v) % 45] for n in range(length)) for v, length in enumerate(capacities)]
    drawn = js("qr", "return given.map(text => m.matrix(text).map(row => row.map(Number).join('')))", texts)
    for version, (text, rows) in enumerate(zip(texts, drawn, strict=True), start=1):
        symbol = qrcode.QRCode(version, qrcode.constants.ERROR_CORRECT_L, border=0, mask_pattern=4)
        symbol.add_data(text, optimize=0)
        symbol.make(fit=False)
        assert rows == ["".join(str(int(bool(dot))) for dot in row) for row in symbol.modules], version


def test_the_clock_keeps_the_best_measure_and_sees_that_it_was_set(js, db):
    assert js("clock", "return m.measured(1000, 1100, 61050)") == {"offset": 60000, "trip": 100}
    assert js("clock", "return m.better({offset: 60000, trip: 100}, {offset: 60030, trip: 900}).offset") == 60000
    assert js("clock", "return m.better({offset: 60000, trip: 100}, {offset: 60005, trip: 20}).offset") == 60005
    assert js("clock", "return m.better({offset: 60000, trip: 100}, {offset: 3600000, trip: 900}).offset") == 3600000


def test_stamps_never_go_back(js, db):
    clocks = [1000, 1000, 400, 400, 5000, 1]
    stamps = js("clock", "let last = 0; return given.map(own => last = m.stamp(own, 50, last))", clocks)
    assert stamps == [1050, 1051, 1052, 1053, 5050, 5051]


def test_waiting_grows_and_ends(js, db):
    waits = js("sender", "return Array.from({length: 30}, (_, n) => m.pause(n + 1, 1))")
    assert waits == sorted(waits)
    assert (waits[0], waits[-1]) == (2000, 60000)
    assert js("sender", "return m.pause(1, 0)") == 1000


ROWS = [
    {
        "maker": "11111111-2222-4333-8444-555555555555",
        "body": {"id": f"id-{n}", "verb": "loaded", "note": f"é{hashlib.sha256(b'%d' % n).hexdigest()}"},
    }
    for n in range(40)
]


def test_a_run_comes_over_whole_in_any_order(js, db):
    frames = js("packets", "return m.pack(given)", ROWS)
    assert len(frames) > 2
    assert all(set(frame) <= set(QR_TEXT) and len(frame) <= 395 for frame in frames)
    random.Random(1).shuffle(frames)
    collect = "const c = new m.Collector(); const was = given.map(f => c.add(f)); return [was, await c.rows()]"
    was, rows = js("packets", collect, frames + frames[:2])
    assert rows == ROWS
    assert was == ["new"] * len(frames) + ["again"] * 2


def test_a_damaged_or_missing_frame_is_never_taken_for_the_whole(js, db):
    frames = js("packets", "return m.pack(given)", ROWS)
    spoiled = [frames[0][:40] + ("A" if frames[0][40] != "A" else "B") + frames[0][41:], *frames[1:]]
    collect = (
        "const c = new m.Collector(); const was = given.map(f => c.add(f)); return [was, c.missing, await c.rows()]"
    )
    was, missing, rows = js("packets", collect, spoiled)
    assert (was[0], missing, rows) == ("bad", [1], None)


def test_frames_that_check_one_by_one_but_not_together_are_refused(js, db):
    frames = js("packets", "return m.pack(given)", ROWS)
    head = frames[0].rsplit(":", 1)[0]
    other = head[:-6] + head[-3:] + head[-6:-3]  # two groups changed places, and a check made to fit
    forged = f"{other}:{zlib.crc32(other.encode()):08X}"
    collect = """const c = new m.Collector(); given.forEach(f => c.add(f));
        try { return await c.rows() } catch (why) { return why.message }"""
    assert "as a whole" in js("packets", collect, [forged, *frames[1:]])


RENDER = """
    const out = {};
    for (const [word, tone] of Object.entries(m.TONES)) {
      const context = new OfflineAudioContext(1, 44100, 44100);
      m.schedule(context, word);
      const sound = (await context.startRendering()).getChannelData(0);
      const loud = []; let turns = 0;
      for (let at = 0; at < sound.length; at += 441) {
        const part = sound.slice(at, at + 441);
        loud.push(Math.max(...part.map(Math.abs)) > 0.2);
        for (let n = 1; n < part.length; n++) turns += (part[n - 1] < 0) !== (part[n] < 0);
      }
      out[word] = {parts: loud.reduce((n, on, at) => n + (on && !loud[at - 1]), 0), ms: loud.lastIndexOf(true) * 10,
                   pitch: turns / 2 / (loud.filter(Boolean).length / 100), buzz: tone.buzz};
    }
    return out;"""


def test_the_four_tones_differ_in_length_rhythm_and_pitch(js, db):
    tones = js("tones", RENDER)
    assert set(tones) == {"good", "already done", "wrong", "unknown"}
    assert tones["good"]["pitch"] > 900 > tones["already done"]["pitch"] > 600
    assert 600 > tones["unknown"]["pitch"] > 400 > 250 > tones["wrong"]["pitch"]
    assert [tones[word]["parts"] for word in ("already done", "wrong")] == [2, 3]
    assert tones["wrong"]["ms"] > 800 > 300 > tones["already done"]["ms"]
    assert len({tuple(tone["buzz"]) for tone in tones.values()}) == 4
