"""Loading, departing, arriving, counting, leaving behind: the acts of a dock, each written to the ledger."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from inventory import codes, ledger
from inventory.answers.loading import live
from inventory.codebook import find_labels, keep_unknown
from inventory.joblines import Asked, place_key, place_words
from inventory.ledger import Fact, Witness
from inventory.models import Entry, Grade, Item, Kind, Label, Person, Photo, Place, ScanReceipt, Verb
from inventory.naming import code_in
from inventory.registering import inside_of
from inventory.saying import Said, Says
from inventory.telling import BOUNCE, say_one
from shipping.boards import Board, Face, board
from shipping.models import ConsignmentCase, Leg
from shipping.packing.facts import Finding

LAST_ACTS = 20
LOAD, UNLOAD = "load", "unload"


class LoadingRefused(ValueError):
    """The act was not done. Carries a sentence to show."""


class Blocked(LoadingRefused):
    """A rule stands in the way of departing; nothing was written."""

    def __init__(self, findings: list[Finding]):
        super().__init__(f"{len(findings)} things stand in the way of departing. Nothing was recorded.")
        self.findings = findings


class StillToGo(LoadingRefused):
    """Listed cases are not on board, and nobody said why it leaves without them."""

    def __init__(self, faces: list[Face]):
        names = ", ".join(str(face.item) for face in faces)
        super().__init__(f"Still to go on: {names}. Load them, or say why it leaves without them.")
        self.faces = faces


@dataclass(frozen=True, slots=True)
class Step:
    """What a scan on this leg records: a verb, and the place things are in from then on."""

    verb: str
    place: Place


def step_of(leg: Leg, doing: str) -> Step:
    """Loading puts things on the vehicle, or in a carrier's hands; unloading puts them where the leg ends."""
    if doing == UNLOAD:
        return Step(Verb.UNLOADED, leg.to_place) if leg.vehicle_id else Step(Verb.ARRIVED, leg.to_place)
    return Step(Verb.LOADED, inside_of(leg.vehicle)) if leg.vehicle_id else Step(Verb.DEPARTED, leg.road)


def label_for(text: str, at: datetime) -> Label:
    """The label that was typed or scanned; a code that nobody knows is kept as unknown."""
    code = code_in(text)[:40]
    if not code or not code.isprintable():
        raise LoadingRefused("Nothing was read. Scan or type the code on the label, then press Enter.")
    return find_labels([code]).get(code) or keep_unknown([code], at)[code]


@transaction.atomic
def scan(leg: Leg, text: str, doing: str, *, by: Witness, at: datetime) -> UUID:
    """Record one scan of a physical fact, which no rule refuses, and return the id of what it said."""
    label, step = label_for(text, at), step_of(leg, doing)
    bounced = _bounced(label, step, by, at)
    if bounced is not None:
        return bounced
    reference = leg.consignment.show.code
    draft = Entry(
        verb=step.verb, label=label, place=step.place, reference=reference, happened_at=at, by=by.name, device=by.device
    )
    said = _off_the_list(leg, label, say_one(draft), doing)
    fact = Fact(step.verb, label, place=step.place, grade=Grade.SCAN, reference=reference)
    entry = ledger.record([fact], by=by, at=at)[0]
    word = ScanReceipt.Word.STORED if label.item_id else ScanReceipt.Word.UNKNOWN_CODE
    ScanReceipt.objects.create(
        scan=entry.pk, word=word, says=said.word, sentence=said.sentence, device=by.device, received_at=at
    )
    return entry.pk


def _off_the_list(leg: Leg, label: Label, said: Said, doing: str) -> Said:
    """A case counted off that no list of the show sends: it is here, and somebody should know."""
    if said.word != Says.GOOD or doing != UNLOAD or label.item is None or label.item.type.kind != Kind.CASE:
        return said
    show = leg.consignment.show
    sent = ConsignmentCase.objects.filter(consignment__show=show, case=label.item)
    if sent.exists() or not _shows_with_a_list({show.code}):
        return said
    words = f"{label.item} is on no list of {show.code}. Recorded at {leg.to_place} all the same."
    return Said(Says.WRONG, words)


def _bounced(label: Label, step: Step, by: Witness, at: datetime) -> UUID | None:
    """The same press twice within three seconds is one fact: the first entry's id, so that it is told the same."""
    rows = live(at).filter(device=by.device, label=label, verb=step.verb, place=step.place)
    before = rows.filter(happened_at__gt=at - BOUNCE).order_by("-happened_at", "-id").first()
    return before.pk if before is not None and by.device is not None else None


def depart(leg: Leg, *, by: Witness, at: datetime, without: str = "") -> list[Entry]:
    """Let the vehicle leave. The rules are asked first: while a block stands nothing is written."""
    from shipping.planning import blocks_for_leg

    now = board(leg, at)
    if now.departed is not None and now.arrived is None:
        raise LoadingRefused(f"It has left already, by {now.departed.by}.")
    if not now.on:
        raise LoadingRefused("Nothing is on board yet. Load the first case, then depart.")
    blocks = blocks_for_leg(leg, at)
    if blocks:
        raise Blocked(blocks)
    if now.to_go and not without.strip():
        raise StillToGo(now.to_go)
    return ledger.record(_moves(leg, now, Verb.DEPARTED, leg.road, _without(now, without)), by=by, at=at)


def _without(now: Board, why: str) -> str:
    if not now.to_go:
        return ""
    return f"Left without {', '.join(str(face.item) for face in now.to_go)}: {why.strip()}"


def _moves(leg: Leg, now: Board, verb: str, place: Place, note: str = "") -> list[Fact]:
    """The vehicle moves and carries its load; without one each case moves by itself."""
    movers = [leg.vehicle] if leg.vehicle_id else [face.item for face in now.on]
    reference = leg.consignment.show.code
    return [Fact(verb, thing, place=place, reference=reference, note=note) for thing in movers]


def arrive(leg: Leg, *, by: Witness, at: datetime) -> list[Entry]:
    """The vehicle is at the leg's end. What is on it is counted off case by case."""
    now = board(leg, at)
    if now.departed is None:
        raise LoadingRefused("It has not left yet, so it cannot have arrived. Depart first, or scan what is here.")
    if now.arrived is not None:
        raise LoadingRefused(f"It has arrived already, by {now.arrived.by}.")
    if not now.on and not leg.vehicle_id:
        raise LoadingRefused("Nothing is on its way any more. Scan what else is here.")
    return ledger.record(_moves(leg, now, Verb.ARRIVED, leg.to_place), by=by, at=at)


@dataclass(frozen=True, slots=True)
class LeavePromise:
    """Who will fetch what is left in place, and by when."""

    place: Place
    person: Person | None
    due_at: datetime | None
    note: str


def end_of(day: date | None) -> datetime | None:
    """The last minute of a day, by the clock on the wall."""
    return None if day is None else timezone.make_aware(datetime.combine(day, time(23, 59)))


def leave_in_place(item: Item | Label, promise: LeavePromise, *, reference: str, by: Witness, at: datetime) -> Entry:
    """It stays where it is, agreed: a room, whose promise, until when."""
    fact = Fact(
        Verb.LEFT, item, place=promise.place, person=promise.person, due_at=promise.due_at, note=promise.note,
        reference=reference,
    )  # fmt: skip
    return ledger.record([fact], by=by, at=at)[0]


def found_code() -> str:
    """A new code for a found thing that carries none; to be written on it, and adopted at the desk."""
    return codes.new_codes(1)[0]


def found_here(text: str, place: Place, *, reference: str, by: Witness, at: datetime, note: str = "") -> Entry:
    """Something nobody expected is here. No form: the code, the place, and whatever one wants to add."""
    fact = Fact(Verb.FOUND, label_for(text, at), place=place, grade=Grade.SCAN, note=note, reference=reference)
    return ledger.record([fact], by=by, at=at)[0]


def report_fault(
    text: str, note: str, photo: Photo | None, *, reference: str, by: Witness, at: datetime
) -> Entry:  # fmt: skip
    """It is broken: say what, with a photo if there is a hand free."""
    if not note.strip():
        raise LoadingRefused("Say in a word or two what is broken.")
    fact = Fact(Verb.FAULTED, label_for(text, at), note=note.strip(), photo=photo, reference=reference)
    return ledger.record([fact], by=by, at=at)[0]


def see_seal(text: str, seal: str, *, reference: str, by: Witness, at: datetime) -> Entry:
    """The seal number as read on the case; another one than was put on opens the case in the book's eyes."""
    if not seal.strip():
        raise LoadingRefused("Read the number on the seal and type it.")
    fact = Fact(Verb.SEEN, label_for(text, at), seal=seal.strip(), grade=Grade.SCAN, reference=reference)
    return ledger.record([fact], by=by, at=at)[0]


def last_acts(by: Witness, reference: str, at: datetime) -> list[Entry]:
    """The newest acts of this bearer's own device, up to twenty, that can be taken back."""
    if by.device is None:
        return []
    rows = (
        live(at).filter(device=by.device, reference=reference).select_related("label__item__type", "place__item__type")
    )
    return list(rows.order_by("-happened_at", "-id")[:LAST_ACTS])


def undo(act: UUID, *, by: Witness, reference: str, at: datetime) -> Entry:
    """Take one of one's own last acts back by a correcting entry; nothing is deleted."""
    mine = {entry.act: entry for entry in last_acts(by, reference, at)}
    if act not in mine:
        raise LoadingRefused("Only your own last 20 acts can be taken back here. Ask the kit manager for others.")
    reason = f"undone: {mine[act].verb} {mine[act].label}"
    fact = Fact(Verb.CORRECTED, corrects=act, note=reason, reference=reference)
    return ledger.record([fact], by=by, at=at)[0]


def settle_dispute(item: Item, place: Place, *, reference: str, by: Witness, at: datetime) -> Entry:
    """A lead has looked: it is here. A new placing ends the dispute; both stories stay in the history."""
    fact = Fact(Verb.PLACED, item, place=place, note="settled: two stories", reference=reference)
    return ledger.record([fact], by=by, at=at)[0]


# What a scan is told, and the ways a phone may write a place: given to inventory, which knows no legs.


def goes_to(asked: Iterable[Asked]) -> dict[Asked, tuple[str, str]]:
    """For each case loaded under a show's code, the vehicle its coming leg names."""
    loads = [one for one in asked if one.verb == Verb.LOADED and one.reference and one.place]
    if not loads:
        return {}
    rides = _rides({one.item for one in loads}, {one.reference for one in loads})
    wanted = Item.objects.filter(pk__in={one.item for one in loads}, type__kind=Kind.CASE)
    cases = set(wanted.values_list("pk", flat=True))
    listed = _shows_with_a_list({one.reference for one in loads})
    asked = [one for one in loads if one.item in cases and one.reference in listed]
    return {one: _ride(one, rides.get((one.item, one.reference), [])) for one in asked}


def _shows_with_a_list(references: set[str]) -> set[str]:
    """A show without any case listed says nothing about where one goes."""
    lines = ConsignmentCase.objects.filter(consignment__show__code__in=references)
    return set(lines.order_by().values_list("consignment__show__code", flat=True).distinct())


def _rides(items: set[int], references: set[str]) -> dict[tuple[int, str], list[Place]]:
    rows = ConsignmentCase.objects.filter(case__in=items, consignment__show__code__in=references).values_list(
        "case_id", "consignment__show__code", "consignment_id"
    )
    gone = Entry.objects.filter(verb=Verb.DEPARTED, place__leg__consignment__in={row[2] for row in rows})
    legs = (
        Leg.objects.filter(consignment__in={row[2] for row in rows}, vehicle__inside__isnull=False)
        .exclude(road__in=gone.values("place"))
        .select_related("vehicle__inside__item__type")
        .order_by("departs_at", "position")
    )
    by_consignment: dict[int, list[Place]] = {}
    for leg in legs:
        by_consignment.setdefault(leg.consignment_id, []).append(leg.vehicle.inside)
    found: dict[tuple[int, str], list[Place]] = {}
    for case, code, consignment in rows:
        found.setdefault((case, code), []).extend(by_consignment.get(consignment, []))
    return found


def _ride(one: Asked, places: list[Place]) -> tuple[str, str]:
    if not places:
        return "nowhere", f"on no vehicle of {one.reference} by the list"
    right = next((place for place in places if place.pk == one.place), places[0])
    return place_key(right), f"on {place_words(right)}"


def find_place(text: str, verb: str) -> Place | None:
    """The place that "leg:12" means for a verb: the vehicle, the road, or where the leg ends."""
    kind, _, key = text.partition(":")
    if kind.lower() != "leg" or not key.isdecimal() or len(key) > 18:
        return None
    leg = Leg.objects.filter(pk=int(key)).select_related("vehicle", "road", "to_place").first()
    if leg is None:
        return None
    if verb == Verb.DEPARTED:
        return leg.road
    if verb == Verb.LOADED:
        return step_of(leg, LOAD).place
    return leg.to_place
