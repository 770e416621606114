"""Asking the owner of a show's content for the word, and that word as it was entered."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from inventory.models import Entry, Item, Mandate, MandatePerson, Person, Release, ReleaseRequest, Verb
from inventory.papers import Draft, Form, moment
from shipping.documents.around import Around

REQUEST = Form("release-request", "release request", "request", ("a4", "letter"), values=True)
NOTHING_SAYS_SO = "nothing in the book says that they may"
NOTE = Form("release-note", "release note", "release", ("a4", "letter"), values=True)


@dataclass(frozen=True, slots=True)
class Serial:
    key: str
    serial: str
    code: str
    model: str
    sets: str


@dataclass(frozen=True, slots=True)
class Request:
    reference: str
    person: str
    organisation: str
    authority: str
    asked_by: str
    asked_at: str
    text: tuple[str, ...]
    serials: tuple[Serial, ...]
    answers: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Note:
    reference: str
    sets: str
    serials: tuple[Serial, ...]
    words: str
    person: str
    organisation: str
    authority: str
    date: str
    received: str
    entered: str
    no_copies_wanted: bool
    withdrawn: str
    unsure: str


def _serials(drives: Iterable[int], around: Around) -> tuple[Serial, ...]:
    """Each drive with every set it was ever in: one that was swapped out stands there like the others."""
    items = around.items(drives)
    joined = Entry.objects.filter(label__item__in=items, verb=Verb.JOINED, happened_at__lte=around.at)
    sets: dict[int, list[str]] = {}
    for item, name, bay in joined.order_by("happened_at", "id").values_list("label__item", "drive_set__name", "bay"):
        sets.setdefault(item, []).append(f"{name} {bay}".strip())
    rows = sorted(items.values(), key=lambda item: (sets.get(item.id, ["~"]), item.serial))
    return tuple(_serial(item, sets.get(item.id, [])) for item in rows)


def _serial(item: Item, sets: list[str]) -> Serial:
    words = ", ".join(dict.fromkeys(sets)) or "no set"
    return Serial(str(item.id), item.serial or "not read", item.code, str(item.type), words)


def _authority(reference: str, person: Person, on: datetime) -> str:
    """Why this person may release, by the agreements in force on that moment; empty where nothing says so."""
    rows = Mandate.objects.filter(reference=reference, in_force_from__lte=on, entered_at__lte=on)
    newest = {row.content_owner_id: row.pk for row in rows.order_by("in_force_from", "pk")}
    named = MandatePerson.objects.filter(mandate__in=newest.values(), person=person).select_related(
        "mandate__content_owner"
    )
    return "; ".join(f"for {one.mandate.content_owner}: {one.why}" for one in named.order_by("mandate_id"))


def _unsure(release: Release, authority: str, serials: tuple[Serial, ...]) -> str:
    """Why a release frees nothing, though it was entered."""
    if not authority:
        return (
            f"Nothing in the book said on that day that {release.person} may release {release.reference}. "
            "It frees nothing until somebody who may releases it."
        )
    return "" if serials else "It names no serial. Naming a set is not enough: it frees nothing."


def build_request(request: ReleaseRequest, medium: str, around: Around) -> Draft:
    drives = request.serials.values_list("drive", flat=True)
    answers = tuple(
        f"{one.get_word_display()}: {one.words} (entered by {one.entered_by}, {moment(one.entered_at)})"
        for one in request.answers.order_by("pk")
    )
    authority = _authority(request.reference, request.person, request.entered_at) or NOTHING_SAYS_SO
    body = Request(
        reference=request.reference, person=request.person.name, organisation=str(request.person.organisation or ""),
        authority=authority, asked_by=request.entered_by,
        asked_at=moment(request.entered_at), text=tuple(line for line in request.text.splitlines() if line.strip()),
        serials=_serials(drives, around), answers=answers,
    )  # fmt: skip
    return Draft(
        REQUEST, medium, f"request {request.pk}", f"Release request {request.reference}", body, request.reference
    )


def build_note(release: Release, medium: str, around: Around) -> Draft:
    serials = _serials(release.serials.values_list("drive", flat=True), around)
    withdrawal = getattr(release, "withdrawal", None)
    sets = sorted({name.rsplit(" ", 1)[0] for one in serials for name in one.sets.split(", ")})
    authority = _authority(release.reference, release.person, min(release.date, release.entered_at))
    body = Note(
        reference=release.reference, sets=", ".join(sets) or str(release.drive_set or ""), serials=serials,
        words="The content of this show on these drives may be erased.", person=release.person.name,
        organisation=str(release.person.organisation or ""),
        authority=authority or NOTHING_SAYS_SO, unsure=_unsure(release, authority, serials),
        date=moment(release.date), received=release.evidence,
        entered=f"{release.entered_by}, {moment(release.entered_at)}", no_copies_wanted=release.no_copies_wanted,
        withdrawn=f"{withdrawal.why} ({withdrawal.entered_by}, {moment(withdrawal.entered_at)})" if withdrawal else "",
    )  # fmt: skip
    return Draft(NOTE, medium, f"release {release.pk}", f"Release note {release.reference}", body, release.reference)
