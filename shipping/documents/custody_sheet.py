"""In whose hands a drive set was, line by line as the ledger has it: where the chain breaks, a gap line says so."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID

from inventory.answers.custody import HEALTH
from inventory.answers.custody_lines import HandedTogether, together
from inventory.answers.loading import live
from inventory.drive_pages import DriveCard, SetPage, set_page
from inventory.drive_records import Records, records_of
from inventory.models import DriveSet, Entry, Item, Verb, Wipe
from inventory.papers import Draft, Form, moment
from shipping.documents.around import Around
from shipping.documents.evidence import content_word
from shipping.documents.item_labels import capacity_words

FORM = Form("custody-sheet", "custody sheet", "set", ("a4", "letter"), values=True)

STANDS = {"bare": "not released", "gone": "no longer on it"}


@dataclass(frozen=True, slots=True)
class Member:
    key: str
    bay: str
    tag: str
    serial: str
    model: str
    capacity: str
    health: str
    holds: str


@dataclass(frozen=True, slots=True)
class Bay:
    """One bay of the map, as the page draws it."""

    key: str
    label: str
    serial_tail: str
    state: str
    words: str


@dataclass(frozen=True, slots=True)
class Recorded:
    key: str
    serial: str
    reference: str
    start: str
    end: str
    remark: str


@dataclass(frozen=True, slots=True)
class Swap:
    key: str
    when: str
    words: str
    why: str


@dataclass(frozen=True, slots=True)
class Transfer:
    """One change of hands, of all the drives that went alike. `gap` is what breaks the chain at this line."""

    key: str
    when: str
    place: str
    serials: str
    giver: str
    receiver: str
    method: str
    seal: str
    condition: str
    due: str
    signed: str
    signature: str
    gap: str


@dataclass(frozen=True, slots=True)
class Said:
    """A decision in one line: a copy, a release, a hold, a wipe."""

    key: str
    words: str


@dataclass(frozen=True, slots=True)
class CustodySheet:
    drive_set: str
    host: str
    references: tuple[str, ...]
    answer: str
    bay_map: tuple[Bay, ...]
    members: tuple[Member, ...]
    recorded: tuple[Recorded, ...]
    swaps: tuple[Swap, ...]
    transfers: tuple[Transfer, ...]
    gaps: int
    copies: tuple[Said, ...]
    releases: tuple[Said, ...]
    holds: tuple[Said, ...]
    wipes: tuple[Said, ...]


def _health(card: DriveCard) -> str:
    """The fault that stands against it, or its newest named health check."""
    told = "not checked"
    for row in reversed(card.health):
        if row.verb == Verb.FAULTED:
            told = f"faulty: {row.note or 'no words given'}"
        elif row.rule == HEALTH:
            told = f"{row.value}, {moment(row.time)}"
        elif row.verb == Verb.MENDED:
            told = "not checked"
    return told


def _member(card: DriveCard, item: Item) -> Member:
    return Member(
        key=str(card.drive.id), bay=card.bay or "left", tag=card.drive.code, serial=card.drive.serial or "not read",
        model=str(item.type), capacity=capacity_words(item.type.capacity_gb), health=_health(card),
        holds=f"{content_word(card.answer)} · wipe: {card.answer.answer}",
    )  # fmt: skip


def _recorded(cards: Sequence[DriveCard]) -> tuple[Recorded, ...]:
    """What was recorded, drives that recorded alike on one line."""
    found: dict[tuple[str, ...], list[str]] = {}
    for card in cards:
        for one in reversed(card.intervals):
            end = moment(one.end) if one.end else "still recording"
            line = (
                one.source,
                one.reference,
                moment(one.start),
                end,
                " · ".join([*one.marks, STANDS.get(one.standing, one.standing)]),
            )
            found.setdefault(line, []).append(card.drive.serial or card.drive.words)
    return tuple(
        Recorded(" ".join(line), ", ".join(dict.fromkeys(serials)), *line[1:]) for line, serials in found.items()
    )


def _swaps(page: SetPage, around: Around) -> tuple[Swap, ...]:
    """Who joined and left, in order; those of one act and for one reason on one line."""
    moves = live(around.at).filter(drive_set=page.drive_set, verb__in=(Verb.JOINED, Verb.DROPPED))
    found: dict[tuple[UUID, str, str], list[Entry]] = {}
    for one in moves.select_related("label__item__type").order_by("happened_at", "id"):
        found.setdefault((one.act, one.verb, one.note), []).append(one)
    return tuple(
        Swap(str(rows[0].pk), moment(rows[0].happened_at),
             f"{', '.join(map(_in_bay, rows))} {rows[0].get_verb_display()}", rows[0].note)
        for rows in found.values()
    )  # fmt: skip


def _in_bay(one: Entry) -> str:
    item = one.label.item if one.label else None
    serial = (item.serial or str(item)) if item else ""
    return f"{one.bay} {serial}".strip()


def _transfer(one: HandedTogether, signatures: Mapping[UUID, Entry]) -> Transfer:
    line = one.line
    signed = signatures.get(line.act)
    told = " (told afterwards)" if line.stated else ""
    serials = [drive.serial or drive.words for drive in one.drives]
    way = "in" if line.verb == Verb.RECEIVED else "out"
    return Transfer(
        key=f"{line.act} {line.entry} {line.drive.id}", when=moment(line.at) + told, serials=", ".join(serials),
        place=line.place, giver=line.giver, receiver=line.receiver, condition=line.condition,
        seal=f"{way} {line.seal}" if line.seal else "",
        method=" · ".join(filter(None, [str(line.verb), f"by {line.by}", line.purpose, line.note])),
        due=moment(line.due_at) if line.due_at else "", signed=signed.value if signed else "",
        signature=(signed.photo_id or "") if signed else "", gap=line.gap or ("" if line.receipt else "no receipt"),
    )  # fmt: skip


def _copies(records: Records) -> tuple[Said, ...]:
    found = []
    for one in records.copies:
        where = one.place or one.place_words or (f"our drive {one.on_drive}" if one.on_drive else "place not said")
        how = f"verified by {one.verified_by}, {moment(one.verified_at)}: {one.verified_how}" if one.verified_at else ""
        state = "REPORTED BAD" if one.reported_bad else how or "NOT VERIFIED"
        serials = ", ".join(sorted(row.drive.serial for row in one.serials.all()))
        made = f"{one.reference} on {one.medium}, made {moment(one.made_at)}, at {where}"
        found.append(Said(f"copy {one.pk}", f"{made}: {state}. Covers {serials}."))
    return tuple(found)


def _releases(records: Records) -> tuple[Said, ...]:
    found = []
    for one in records.releases:
        serials = ", ".join(sorted(row.drive.serial for row in one.serials.all())) or f"names {one.drive_set} only"
        gone = f" WITHDRAWN: {one.withdrawal.why}." if hasattr(one, "withdrawal") else ""
        words = f"{one.reference} by {one.person}, {moment(one.date)}: {one.evidence}. {serials}.{gone}"
        found.append(Said(f"release {one.pk}", words))
    return tuple(found)


def _holds(records: Records) -> tuple[Said, ...]:
    return tuple(
        Said(f"hold {one.pk}", f"{one.drive or one.drive_set or one.reference}: {one.why}, set by {one.entered_by}. "
             + (f"Lifted by {one.lift.entered_by}: {one.lift.why}." if hasattr(one, "lift") else "IT STANDS."))
        for one in records.holds
    )  # fmt: skip


def _wipes(records: Records) -> tuple[Said, ...]:
    """How each wipe of each drive ended, or that it is under way."""
    last: dict[tuple[UUID, int], Wipe] = {}
    for one in records.wipes:  # newest first
        last.setdefault((one.job, one.drive_id), one)
    alike: dict[str, list[Wipe]] = {}
    for one in last.values():
        how = f"{one.get_method_display()}, {one.technique} {one.tool}".strip()
        words = f"{one.get_step_display()} {moment(one.entered_at)} by {one.entered_by}, {how}"
        alike.setdefault(words, []).append(one)
    return tuple(
        Said(f"wipe {rows[0].pk}", f"{_serials(rows)}: {words}. {_jobs(rows)}") for words, rows in alike.items()
    )


def _serials(rows: Sequence[Wipe]) -> str:
    return ", ".join(sorted(one.drive.serial or str(one.drive) for one in rows))


def _jobs(rows: Sequence[Wipe]) -> str:
    jobs = list(dict.fromkeys(str(one.job)[:8] for one in rows))
    return f"Job{'s' if len(jobs) > 1 else ''} {', '.join(jobs)}."


def build(drive_set: DriveSet, medium: str, around: Around) -> Draft:
    """Derived from the ledger alone; nothing on it is entered on it."""
    page = set_page(drive_set, around.at)
    records = records_of(page, around.at)
    items = around.items(card.drive.id for card in page.cards)
    transfers = tuple(_transfer(one, records.signatures) for one in together(reversed(page.hands)))
    body = CustodySheet(
        drive_set=drive_set.name, host=str(drive_set.host or ""),
        references=tuple(one for one in page.references if one),
        answer=page.answer.sentence,
        bay_map=tuple(Bay(one.label, one.label, one.serial_tail, str(one.state), one.words) for one in page.cells),
        swaps=_swaps(page, around),
        members=tuple(_member(card, items[card.drive.id]) for card in page.cards),
        recorded=_recorded(page.cards),
        transfers=transfers, gaps=sum(bool(line.gap) for line in page.hands),
        copies=_copies(records), releases=_releases(records), holds=_holds(records), wipes=_wipes(records),
    )  # fmt: skip
    return Draft(FORM, medium, drive_set.slug, f"Custody sheet {drive_set.name}", body)
