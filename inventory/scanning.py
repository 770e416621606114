"""A phone's upload into ledger entries, with one final answer to every scan in it.

Nothing a phone sends is lost: a scan is stored, or kept to the letter for a kit manager. The answer to an id is kept
too, and looked up before anything else, so that a repeat is told the same whatever has changed since.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import islice
from operator import attrgetter
from typing import Any
from uuid import UUID

from django.db import DataError, IntegrityError, connection, transaction
from django.db.models import Model

from inventory import ledger, passes
from inventory.access import role_of
from inventory.codebook import CodeBook, keep_unknown, open_book
from inventory.models import Device, Entry, Role, ScanReceipt, SetAside, slim
from inventory.saying import Said, Says
from inventory.telling import tell
from inventory.uploads import RawScan, Scan, Unreadable, Upload, read_scan

Word = ScanReceipt.Word
ALREADY_STORED = "already stored"
ID_REUSED = "id reused"


@dataclass(frozen=True, slots=True)
class Answer:
    """What the phone is told about one scan. `receipt` is final; `says` is for the ear."""

    position: int
    id: UUID | None
    receipt: str
    says: str
    sentence: str

    def as_data(self) -> dict[str, object]:
        """The answer as JSON carries it."""
        return {name: getattr(self, name) for name in self.__slots__}


@dataclass(frozen=True, slots=True)
class Delivery:
    """One upload, the phone that sent it, and when it came."""

    upload: Upload
    device: Device
    at: datetime


@dataclass(slots=True)
class Arrived:
    """One scan on its way, and the upload it came with: filled in step by step."""

    raw: RawScan
    came: Delivery
    digest: str
    scan: Scan | None = None
    maker: Device | None = None
    entry: Entry | None = None
    word: str = ""
    said: Said | None = None


def receive(upload: Upload, *, device: Device, at: datetime) -> list[Answer]:
    """Take a whole upload in one durable transaction and answer each scan, in the order sent.

    It is taken as if all of it were new, which most is; only where the database knows better is each id looked up.
    """
    delivery = Delivery(upload, device, at)
    try:
        return receive_new([delivery])[0]
    except (IntegrityError, DataError):
        return _receive_again(delivery)


@transaction.atomic
def receive_new(deliveries: Sequence[Delivery]) -> list[list[Answer]]:
    """Take uploads that hold nothing known in one durable transaction, as if they came the moment the last of them did.

    IntegrityError or DataError, and nothing taken of any, where the database will not have something of one.
    """
    _lock(deliveries)
    return _take_in(deliveries, {}, set(), _store_new)


@transaction.atomic
def _receive_again(delivery: Delivery) -> list[Answer]:
    _lock([delivery])
    ids = {raw.id for raw in delivery.upload.scans} - {None}
    known = ScanReceipt.objects.in_bulk(ids)
    return _take_in([delivery], known, _ids_without_receipt(ids - set(known)), _store)[0]


def _lock(deliveries: Sequence[Delivery]) -> None:
    """One device's uploads wait for each other, those carried by another phone included."""
    if not connection.features.has_select_for_update:  # SQLite has one writer, and that is us by now
        return
    ids = {each.device.pk for each in deliveries}
    for raw in (raw for each in deliveries for raw in each.upload.scans if isinstance(raw.value, dict)):
        ids |= {made for made in [_as_uuid(raw.value.get("device"))] if made}
    list(Device.objects.select_for_update().filter(pk__in=ids).order_by("pk").values_list("pk"))


def _as_uuid(value: object) -> UUID | None:
    try:
        return UUID(value) if isinstance(value, str) else None
    except ValueError:
        return None


def _take_in(
    deliveries: Sequence[Delivery],
    known: dict[UUID, ScanReceipt],
    taken: set[UUID],
    store: Callable[[list[Arrived], datetime], None],
) -> list[list[Answer]]:
    at = max(each.at for each in deliveries)
    arrived = [
        Arrived(raw, each, raw.digest(_maker_text(raw, each.device)))
        for each in deliveries
        for raw in each.upload.scans
    ]
    fresh = _first_of_each_id(arrived, known, taken)
    _read(fresh)
    passed = _judge(fresh, at)
    tell(passed)
    store(passed, at)
    known |= _keep_receipts(fresh, at)
    _keep_aside(arrived, fresh, known, at)
    for each in deliveries:
        _heard_from(each.device, each.upload, at)
    firsts = {id(each) for each in fresh}
    answers = iter([_answer(each, known, first=id(each) in firsts) for each in arrived])
    return [list(islice(answers, len(each.upload.scans))) for each in deliveries]


def _maker_text(raw: RawScan, device: Device) -> str:
    named = raw.value.get("device") if isinstance(raw.value, dict) else None
    return str(_as_uuid(named) or named or device.pk)


def _ids_without_receipt(ids: set[UUID]) -> set[UUID]:
    """Ids of entries made elsewhere: a phone that uses one of these has reused it."""
    return set(Entry.objects.filter(pk__in=ids).values_list("pk", flat=True)) if ids else set()


def _first_of_each_id(arrived: list[Arrived], known: dict, taken: set[UUID]) -> list[Arrived]:
    seen = set(known) | taken
    fresh = []
    for each in arrived:
        key = each.raw.id
        if key is None or key not in seen:
            fresh.append(each)
            seen.add(key)
    return fresh


def _read(fresh: list[Arrived]) -> None:
    for each in fresh:
        try:
            each.scan = read_scan(each.raw)
        except Unreadable as why:
            _set_unreadable(each, str(why))


def _set_unreadable(each: Arrived, why: str) -> None:
    each.word = Word.UNREADABLE
    each.said = Said(Says.UNKNOWN, f"{why[:180]} Kept as it came, for the kit manager.")


def _judge(fresh: list[Arrived], at: datetime) -> list[Arrived]:
    """Build the entries of what can be stored now, and return those."""
    readable = [each for each in fresh if each.scan is not None]
    book = open_book(each.scan for each in readable)
    for each in readable:
        _judge_one(each, book, at)
    passed = [each for each in readable if not each.word]
    unknown = {each.scan.code for each in passed if each.scan.code and book.label(each.scan) is None}
    if unknown:
        book.labels.update(keep_unknown(unknown, at))
    for each in passed:
        each.word = Word.UNKNOWN_CODE if _has_no_item(each.scan, book) else Word.STORED
        came = each.came
        each.entry = entry_of(
            each.scan, book, maker=each.maker, carrier=came.device, sent_at=came.upload.sent_at, at=at
        )
    return passed


def _has_no_item(scan: Scan, book: CodeBook) -> bool:
    label = book.label(scan)
    return label is not None and label.item_id is None


def _judge_one(each: Arrived, book: CodeBook, at: datetime) -> None:
    """Find who made it, and whether it can be an entry now, later, or not as it stands."""
    scan, device = each.scan, each.came.device
    each.maker = book.makers.get(scan.device) if scan.device not in (None, device.pk) else device
    if why := why_unresolved(scan, book, each.maker):
        _set_unreadable(each, why)
    elif why := _why_held(scan, each.maker, device, at):
        each.word = Word.HELD
        each.said = Said(Says.UNKNOWN, f"Kept, and waiting for the kit manager: {why}")


def why_unresolved(scan: Scan, book: CodeBook, maker: Device | None) -> str:
    """What a readable scan names that this book does not have."""
    if maker is None:
        return f"No phone {scan.device} is known here."
    if scan.place and book.place(scan) is None:
        return f"No place {scan.place[:60]!r} is known here."
    if scan.drive_set and scan.drive_set not in book.sets:
        return f"No drive set {scan.drive_set!r} is known here."
    return ""


def _why_held(scan: Scan, maker: Device, device: Device, at: datetime) -> str:
    if maker != device and not _may_carry(device, maker):
        return "it was made on another job's phone, or under an account, and carried by this one."
    return passes.why_held(
        maker, verb=scan.verb, grade=scan.grade, reference=scan.reference, happened_at=happened_at(scan, at)
    )


def _may_carry(carrier: Device, maker: Device) -> bool:
    """A pass's phone carries only for phones of its show: nobody gains a role by carrying."""
    if carrier.day_pass is None:
        return role_of(carrier.user) in (Role.KIT_MANAGER, Role.ROAD_LEAD)
    return maker.day_pass is not None and maker.day_pass.reference == carrier.day_pass.reference


def happened_at(scan: Scan, received_at: datetime) -> datetime:
    """Fixed once, here: nothing happened later than it was received (ledger P2)."""
    return min(scan.stamp(), received_at)


def entry_of(
    scan: Scan, book: CodeBook, *, maker: Device, carrier: Device, sent_at: datetime | None, at: datetime
) -> Entry:
    """The entry that this scan becomes; not yet stored."""
    photo = book.photos.get(scan.photo)
    lost_photo = f" (photo {scan.photo} was not received)" if scan.photo and photo is None else ""
    label, place, drive_set = book.label(scan), book.place(scan), book.sets.get(scan.drive_set)
    columns = dict(zip(SAID, said_by(scan), strict=True)) | {
        "act": scan.act or scan.id, "label_id": _key(label), "place_id": _key(place), "photo_id": _key(photo),
        "drive_set_id": _key(drive_set), "note": f"{scan.note}{lost_photo}", "happened_at": happened_at(scan, at),
        "received_at": at, "sent_at": sent_at, "device_id": maker.pk,
        "carried_by_id": carrier.pk if carrier != maker else None, "by": maker.name, "user_id": maker.user_id,
        "day_pass_id": maker.day_pass_id, "role": role_of(maker.user) or Role.CREW if maker.user else Role.CREW,
        "reference": scan.reference or (maker.day_pass.reference if maker.day_pass else ""),
    }  # fmt: skip
    return slim.new(Entry, columns, label=label, place=place)


# What an entry keeps of a scan as it was said.
SAID = (
    "id", "verb", "bay", "quantity", "mass_g", "seal", "serial", "condition", "grade", "rule", "value", "due_at",
    "taken_at", "offset_ms", "stated", "device_seq", "corrects",
)  # fmt: skip
said_by = attrgetter(*SAID)


def _key(row: Model | None) -> Any:
    return row.pk if row is not None else None


def _store_new(passed: list[Arrived], at: datetime) -> None:
    ledger.append_new([each.entry for each in passed], at)


def _store(passed: list[Arrived], at: datetime) -> None:
    """Append all at once; should the database refuse the lot, one by one, so that one cannot undo another."""
    try:
        with transaction.atomic():
            ledger.append([each.entry for each in passed], at)
    except (IntegrityError, DataError):
        for each in passed:
            _store_alone(each, at)


def _store_alone(each: Arrived, at: datetime) -> None:
    try:
        with transaction.atomic():
            ledger.append([each.entry], at)
    except (IntegrityError, DataError) as why:
        each.entry = None
        _set_unreadable(each, f"The book could not keep it ({type(why).__name__}).")


def _keep_receipts(fresh: list[Arrived], at: datetime) -> dict[UUID, ScanReceipt]:
    rows = [_receipt(each, at) for each in fresh if each.raw.id is not None]
    ScanReceipt.objects.append(rows)
    return {row.scan: row for row in rows}


def _receipt(each: Arrived, at: datetime) -> ScanReceipt:
    columns = {
        "scan": each.raw.id, "word": each.word, "says": each.said.word, "sentence": each.said.sentence[:300],
        "digest": each.digest, "device_id": each.came.device.pk, "received_at": at,
    }  # fmt: skip
    return slim.new(ScanReceipt, columns)


def _keep_aside(arrived: list[Arrived], fresh: list[Arrived], known: dict, at: datetime) -> None:
    """Keep to the letter what is no entry: held, unreadable, and second bodies under one id."""
    firsts = {id(each) for each in fresh}
    wanted = []
    for each in arrived:
        if id(each) in firsts and each.word in (Word.HELD, Word.UNREADABLE):
            wanted.append(_aside(each, each.word, each.said.sentence, at))
        elif id(each) not in firsts and _is_second_body(each, known):
            wanted.append(_aside(each, ID_REUSED, "Another body came under an id that was used before.", at))
    SetAside.objects.bulk_create(_not_kept_yet(wanted))


def _is_second_body(each: Arrived, known: dict[UUID, ScanReceipt]) -> bool:
    receipt = known.get(each.raw.id)
    return receipt is None or receipt.digest != each.digest


def _aside(each: Arrived, why: str, sentence: str, at: datetime) -> SetAside:
    return SetAside(
        entry_id=each.raw.id, why=why, sentence=sentence[:300], body=each.raw.text, device=each.came.device,
        received_at=at,
    )  # fmt: skip


def _not_kept_yet(wanted: list[SetAside]) -> list[SetAside]:
    """A resend is not kept twice: the same text from the same device, for the same reason."""
    if not wanted:
        return []
    told = SetAside.objects.filter(device__in={row.device_id for row in wanted}, body__in={row.body for row in wanted})
    kept = set(told.values_list("device_id", "why", "body"))
    new = {(row.device_id, row.why, row.body): row for row in wanted}
    return [row for key, row in new.items() if key not in kept]


def _answer(each: Arrived, known: dict[UUID, ScanReceipt], *, first: bool) -> Answer:
    key = each.raw.id
    if key is None:
        return Answer(each.raw.position, None, each.word, each.said.word, each.said.sentence)
    if _is_second_body(each, known):
        sentence = "This id was used before with other words. The first stands; this one is kept aside to be looked at."
        return Answer(each.raw.position, key, ID_REUSED, Says.UNKNOWN, sentence)
    receipt = known[key]
    word = ALREADY_STORED if receipt.word == Word.STORED and not first else receipt.word
    return Answer(each.raw.position, key, str(word), receipt.says, receipt.sentence)


def _heard_from(device: Device, upload: Upload, at: datetime) -> None:
    device.last_heard_at = at
    if upload.offset_ms is not None:
        device.offset_ms = upload.offset_ms
    if upload.unsent is not None:
        device.unsent = upload.unsent
    device.save(update_fields=["last_heard_at", "offset_ms", "unsent"])
