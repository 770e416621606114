"""Reading what a phone sends: bytes into scans, each kept to the letter beside what it was read as."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property
from typing import Any
from uuid import UUID

from inventory.models import Grade, Verb
from inventory.naming import code_in

MAX_BYTES = 1_000_000
MAX_SCANS = 500
MAX_SCAN_CHARACTERS = 8_000
BIGGEST_INTEGER = 2_147_483_647
BIGGEST_STEP = 2**63 - 1
AT_THE_DESK = {Verb.AMENDED, Verb.SIGNED}
PLACELESS = {Verb.MISSED, Verb.CORRECTED}
PLACE_NEEDED = {Verb.PACKED, Verb.FITTED, Verb.PLACED, Verb.LOADED, Verb.ARRIVED}
SET_NEEDED = {Verb.JOINED, Verb.DROPPED, Verb.BROKEN_UP}
CODE_OPTIONAL = {Verb.CORRECTED, Verb.RECORDING, Verb.STOPPED, Verb.BROKEN_UP, Verb.CHECKED}


class UploadRefused(ValueError):
    """The upload as a whole cannot be read. Nothing of it was taken."""

    def __init__(self, sentence: str, status: int = 400):
        super().__init__(sentence)
        self.status = status


class Unreadable(ValueError):
    """One scan cannot be read. Carries a sentence that says which field and what it should be."""


@dataclass(frozen=True)
class RawScan:
    """One scan as sent: `text` to the letter, `value` as parsed."""

    position: int
    text: str
    value: Any

    @cached_property
    def id(self) -> UUID | None:
        try:
            return _uuid(self.value["id"])
        except (Unreadable, KeyError, TypeError):
            return None

    def digest(self, maker: str) -> str:
        """One digest for one body, whoever carried it and in whatever order its fields came."""
        body = {**self.value, "device": maker} if isinstance(self.value, dict) else self.value
        return hashlib.sha256(json.dumps(body, sort_keys=True).encode()).hexdigest()


@dataclass(frozen=True, slots=True)
class Upload:
    """`offset_ms` is server clock less the phone's, as the phone measured it or as `sent_at` shows."""

    scans: tuple[RawScan, ...]
    sent_at: datetime | None = None
    offset_ms: int | None = None
    unsent: int | None = None
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Scan:
    """One readable scan. Texts of codes and places are not resolved yet."""

    id: UUID
    verb: str
    device_seq: int
    act: UUID | None = None
    code: str = ""
    place: str = ""
    bay: str = ""
    drive_set: str = ""
    quantity: int | None = None
    mass_g: int | None = None
    seal: str = ""
    serial: str = ""
    condition: str = ""
    note: str = ""
    photo: str = ""
    grade: str = Grade.SCAN
    rule: str = ""
    value: str = ""
    due_at: datetime | None = None
    taken_at: datetime | None = None
    offset_ms: int | None = None
    happened_at: datetime | None = None
    stated: bool = False
    device: UUID | None = None
    reference: str = ""
    corrects: UUID | None = None

    def stamp(self) -> datetime:
        """When the maker says it happened: its stamp, else its own clock put right by its offset."""
        if self.happened_at is not None:
            return self.happened_at
        return self.taken_at + timedelta(milliseconds=self.offset_ms or 0)


def _uuid(value: Any) -> UUID:
    if not isinstance(value, str):
        raise Unreadable("is not a UUID in text")
    try:
        return UUID(value)
    except ValueError:
        raise Unreadable("is not a UUID") from None


def _moment(value: Any) -> datetime:
    if not isinstance(value, str):
        raise Unreadable("is not a time in text")
    try:
        moment = datetime.fromisoformat(value)
    except ValueError:
        raise Unreadable("is not a time such as 2026-03-14T22:31:05Z") from None
    if moment.tzinfo is None:
        raise Unreadable("has no time zone; end it with Z or an offset")
    if not 1970 <= moment.year <= 2999:  # a phone with a flat clock battery starts in 1970
        raise Unreadable("lies outside the years 1970 to 2999")
    return moment


def _whole(low: int, high: int) -> Callable[[Any], int]:
    def read(value: Any) -> int:
        if isinstance(value, bool) or not isinstance(value, int):
            raise Unreadable("is not a whole number")
        if not low <= value <= high:
            raise Unreadable(f"is not between {low} and {high}")
        return value

    return read


def _text(longest: int) -> Callable[[Any], str]:
    def read(value: Any) -> str:
        if not isinstance(value, str):
            raise Unreadable("is not text")
        if len(value) > longest:
            raise Unreadable(f"is longer than {longest} characters")
        if not storable(value):
            raise Unreadable("holds a character that cannot be kept")
        return value

    return read


def storable(text: str) -> bool:
    """Can both databases keep it? No NUL, no half of a surrogate pair."""
    return "\x00" not in text and not re.search("[\ud800-\udfff]", text)


def _code(value: Any) -> str:
    code = code_in(_text(400)(value))
    if len(code) > 40:
        raise Unreadable("is longer than any code; a code has 40 characters at most")
    if code and not code.isprintable():
        raise Unreadable("holds a character that no label carries")
    return code


def _one_of(choices: Any) -> Callable[[Any], str]:
    known = dict.fromkeys(choices.values)  # put together by the enumeration anew each time it is asked

    def read(value: Any) -> str:
        if not isinstance(value, str) or value not in known:
            raise Unreadable(f"is none of: {', '.join(known)}")
        return value

    return read


def _flag(value: Any) -> bool:
    if not isinstance(value, bool):
        raise Unreadable("is neither true nor false")
    return value


FIELDS: dict[str, Callable[[Any], Any]] = {
    "id": _uuid,
    "act": _uuid,
    "verb": _one_of(Verb),
    "code": _code,
    "place": _text(400),
    "bay": _text(20),
    "drive_set": _text(60),
    "quantity": _whole(0, BIGGEST_INTEGER),
    "mass_g": _whole(1, BIGGEST_INTEGER),
    "seal": _text(40),
    "serial": _text(80),
    "condition": _text(20),
    "note": _text(2_000),
    "photo": _text(64),
    "grade": _one_of(Grade),
    "rule": _text(60),
    "value": _text(200),
    "due_at": _moment,
    "taken_at": _moment,
    "offset_ms": _whole(-BIGGEST_STEP, BIGGEST_STEP),
    "happened_at": _moment,
    "stated": _flag,
    "device_seq": _whole(1, BIGGEST_STEP),
    "device": _uuid,
    "reference": _text(30),
    "corrects": _uuid,
}


def read_scan(raw: RawScan) -> Scan:
    """Read one scan, or raise Unreadable with the first thing that stands in the way."""
    if not isinstance(raw.value, dict):
        raise Unreadable("A scan is an object with an id, a verb and a code; this is none.")
    if len(raw.text) > MAX_SCAN_CHARACTERS:
        raise Unreadable(f"One scan has {MAX_SCAN_CHARACTERS} characters at most; this has {len(raw.text)}.")
    strange = sorted(set(raw.value) - set(FIELDS))
    if strange:
        raise Unreadable(f"No field of a scan is called {strange[0][:40]!r}.")
    scan = Scan(**{"id": None, "verb": "", "device_seq": 0, **_fields(raw.value)})
    _whole_enough(scan)
    return scan


def _fields(value: dict[str, Any]) -> dict[str, Any]:
    read: dict[str, Any] = {}
    for name, given in value.items():
        if given is None:
            continue
        try:
            read[name] = FIELDS[name](given)
        except Unreadable as why:
            raise Unreadable(f"{name} {why}.") from None
    return read


def _whole_enough(scan: Scan) -> None:
    """What the ledger's own constraints ask, said in words before the database would."""
    for bad, sentence in (
        (scan.id is None, "It has no id."),
        (not scan.verb, "It has no verb: what was done?"),
        (not scan.device_seq, "It has no device_seq, the phone's own count of its scans."),
        (scan.taken_at is None and scan.happened_at is None, "It says no time: taken_at or happened_at."),
        (scan.stated and scan.happened_at is None, "It is stated, yet says no happened_at."),
        (scan.verb in AT_THE_DESK, f"{scan.verb} is done at the desk, not by a scan."),
        (not scan.code and scan.verb not in CODE_OPTIONAL, "It has no code: of what?"),
        (not scan.place and scan.verb in PLACE_NEEDED, f"{scan.verb} needs a place: where?"),
        (bool(scan.place) and scan.verb in PLACELESS, f"{scan.verb} moves nothing, so it takes no place."),
        ((scan.verb == Verb.CORRECTED) != (scan.corrects is not None), "corrects and corrected go together."),
        (scan.verb == Verb.COUNTED and scan.quantity is None, "counted needs a quantity."),
        (scan.verb == Verb.WEIGHED and not scan.mass_g, "weighed needs mass_g, in grams."),
        (not scan.drive_set and scan.verb in SET_NEEDED, f"{scan.verb} needs a drive_set."),
    ):
        if bad:
            raise Unreadable(sentence)
    _time_in_range(scan)


def _time_in_range(scan: Scan) -> None:
    try:
        scan.stamp()
    except OverflowError:
        raise Unreadable("taken_at and offset_ms give no time of any calendar.") from None


def read_upload(body: bytes, *, received_at: datetime) -> Upload:
    """Read a whole upload, or raise UploadRefused with a sentence and the HTTP status that fits."""
    if len(body) > MAX_BYTES:
        raise UploadRefused(f"An upload has {MAX_BYTES:,} bytes at most. Send fewer scans at a time.", 413)
    text, value = _json(body)
    if not isinstance(value, dict) or not isinstance(value.get("scans"), list):
        raise UploadRefused('An upload is an object with a list called "scans". Nothing was taken.')
    if len(value["scans"]) > MAX_SCANS:
        raise UploadRefused(f"An upload has {MAX_SCANS} scans at most. Send the rest in the next one.", 413)
    texts = scan_texts(text)
    raws = tuple(RawScan(n, t, v) for n, (t, v) in enumerate(zip(texts, value["scans"], strict=True)))
    return _envelope(value, raws, received_at)


def _json(body: bytes) -> tuple[str, Any]:
    def refuse(constant: str) -> None:
        raise ValueError(f"{constant} is no number of JSON")

    try:
        text = body.decode("utf-8-sig")
        return text, json.loads(text, parse_constant=refuse)
    except UnicodeDecodeError:
        raise UploadRefused("The upload is not UTF-8 text. Nothing was taken; keep the scans and send again.") from None
    except RecursionError:
        raise UploadRefused("The upload is nested too deep to read. Nothing was taken.") from None
    except ValueError as why:
        raise UploadRefused(f"The upload is not JSON ({str(why)[:80]}). Nothing was taken; send again.") from None


def _envelope(value: dict[str, Any], raws: tuple[RawScan, ...], received_at: datetime) -> Upload:
    """Read the few words about the phone itself. One that cannot be read is remarked, never a refusal."""
    remarks: list[str] = []

    def read(name: str, reader: Callable[[Any], Any]) -> Any:
        if value.get(name) is None:
            return None
        try:
            return reader(value[name])
        except Unreadable as why:
            remarks.append(f"{name} {why}.")
            return None

    sent_at = read("sent_at", _moment)
    offset = read("offset_ms", _whole(-BIGGEST_STEP, BIGGEST_STEP))
    if offset is None and sent_at is not None:
        offset = (received_at - sent_at) // timedelta(milliseconds=1)
    unsent = read("unsent", _whole(0, BIGGEST_INTEGER))
    return Upload(raws, sent_at=sent_at, offset_ms=offset, unsent=unsent, remarks=tuple(remarks))


_SPACE = re.compile(r"[ \t\r\n]*")
_DECODER = json.JSONDecoder()


def _skip(text: str, at: int) -> int:
    space = _SPACE.match(text, at)
    return space.end() if space else at


def scan_texts(text: str) -> list[str]:
    """Each member of the list called "scans", to the letter. The text is JSON and has that list."""
    found: list[str] = []
    at = _skip(text, 0) + 1
    while text[at := _skip(text, at)] != "}":
        name, at = _DECODER.raw_decode(text, at)
        at = _skip(text, _skip(text, at) + 1)  # over the colon
        if name == "scans":
            found, at = _members(text, at)  # a name given twice: the last one counts, as in json.loads
        else:
            _, at = _DECODER.raw_decode(text, at)
        at = _over_comma(text, at)
    return found


def _members(text: str, at: int) -> tuple[list[str], int]:
    if text[at] != "[":  # an earlier namesake that is no list
        return [], _DECODER.raw_decode(text, at)[1]
    found, at = [], at + 1
    while text[at := _skip(text, at)] != "]":
        _, end = _DECODER.raw_decode(text, at)
        found.append(text[at:end])
        at = _over_comma(text, end)
    return found, at + 1


def _over_comma(text: str, at: int) -> int:
    at = _skip(text, at)
    return at + 1 if text[at] == "," else at
