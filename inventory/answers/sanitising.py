"""The record of one wipe: a line a drive, in the fields of NIST's sample certificate.

Source: NIST SP 800-88 Rev. 1, section 4.8 and appendix G (fields, from memory); method classes clear, purge and
destroy as Rev. 2 keeps them. It is a record of what was done and checked, by whom; no guarantee against recovery.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from inventory.answers.refs import item_ref
from inventory.answers.values import ItemRef
from inventory.models import Copy, Entry, Item, Person, Release, ReleaseSerial, Verb, Wipe

NO_GUARANTEE = "A record of what was done and checked, by whom; not a guarantee against recovery."


@dataclass(frozen=True, slots=True)
class Hand:
    """Who did a step, as the sample asks: name, title, organisation, when, where, phone. The signature is on paper."""

    name: str
    title: str
    organization: str
    date: datetime
    location: str
    phone: str


@dataclass(frozen=True, slots=True)
class WipedDrive:
    """One drive in the sample's fields. `outcome` is begun, stopped, failed or verified: only verified is wiped."""

    manufacturer: str
    model: str
    serial: str
    property_number: str
    media_type: str
    source: str
    classification_before: str
    backed_up: str
    method_type: str
    method_used: str
    tool_and_version: str
    verification: str
    classification_after: str
    destination: str
    notes: str
    releases: tuple[str, ...]
    outcome: str


@dataclass(frozen=True, slots=True)
class SanitisationLine(WipedDrive):
    """The same with whose hands did it, and the drive itself."""

    sanitizer: Hand
    validator: Hand | None
    drive: ItemRef


@dataclass(frozen=True, slots=True)
class SanitisationRecord:
    job: UUID
    lines: tuple[SanitisationLine, ...]

    @property
    def answer(self) -> str:
        """The worst outcome: begun, failed, stopped, then verified."""
        words = {line.outcome for line in self.lines}
        return next((word for word in ("begun", "failed", "stopped", "verified") if word in words), "nothing")

    @property
    def sentence(self) -> str:
        counts = {word: sum(line.outcome == word for line in self.lines) for word in Wipe.Step.values}
        said = {"begun": "under way", "verified": "wiped and verified"}
        told = [f"{count} {said.get(word, word)}" for word, count in counts.items() if count]
        return f"{len(self.lines)} drive{'s' if len(self.lines) != 1 else ''}: {', '.join(told)}."


def sanitisation_record(job: UUID) -> SanitisationRecord | None:
    """The record of a wipe job; None if there is no such job."""
    rows = list(Wipe.objects.filter(job=job).select_related("drive__type", "drive__home_set").order_by("pk"))
    if not rows:
        return None
    people = {one.name: one for one in Person.objects.filter(name__in={row.entered_by for row in rows}).select_related(
        "organisation")}  # fmt: skip
    steps: dict[int, list[Wipe]] = {}
    for row in rows:
        steps.setdefault(row.drive_id, []).append(row)
    drives = [one[0].drive for one in steps.values()]
    said = _said_of(drives, rows[0].entered_at)
    lines = [_line(one, people, said) for one in steps.values()]
    return SanitisationRecord(job, tuple(sorted(lines, key=lambda line: line.serial)))


@dataclass(frozen=True, slots=True)
class _Said:
    releases: dict[int, list[Release]]
    copies: dict[int, list[Copy]]
    sources: dict[int, str]


def _said_of(drives: list[Item], at: datetime) -> _Said:
    """What was released and copied of these drives before the wipe began, and in what they had recorded."""
    ids = [drive.pk for drive in drives]
    releases, copies = {}, {}
    named = ReleaseSerial.objects.filter(drive__in=ids, release__entered_at__lte=at, release__withdrawal=None)
    for row in named.select_related("release__person"):
        releases.setdefault(row.drive_id, []).append(row.release)
    for row in Copy.objects.filter(serials__drive__in=ids, entered_at__lte=at, replaced_by=None).prefetch_related(
        "serials"
    ):
        for serial in row.serials.all():
            copies.setdefault(serial.drive_id, []).append(row)
    joined = Entry.objects.filter(label__item__in=ids, verb=Verb.JOINED, happened_at__lte=at).order_by("happened_at")
    sources = dict(joined.values_list("label__item", "drive_set__name"))
    return _Said(releases, copies, sources)


def _line(rows: list[Wipe], people: dict[str, Person], said: _Said) -> SanitisationLine:
    begun, last = rows[0], rows[-1]
    drive, verified = begun.drive, last.step == Wipe.Step.VERIFIED
    ref = item_ref(drive)
    releases = said.releases.get(drive.pk, [])
    validator = _hand(last, people) if verified else None
    return SanitisationLine(
        drive.type.maker, drive.type.name, drive.serial, ref.code,
        "solid-state drive" if drive.type.solid_state else "drive", said.sources.get(drive.pk, "not said"),
        begun.held_before or _contents(releases), _backed_up(said.copies.get(drive.pk, [])), begun.method,
        begun.technique, begun.tool, last.verification if verified else "", "no content" if verified else "as before",
        begun.destination, "" if verified or len(rows) == 1 else f"{last.step}: {last.verification}",
        tuple(f"{one.reference}, by {one.person}, {one.date:%d %b %Y}: {one.evidence}" for one in releases),
        last.step, _hand(begun, people), validator, ref,
    )  # fmt: skip


def _contents(releases: Iterable[Release]) -> str:
    names = sorted({one.reference for one in releases})
    return f"client's content: {', '.join(names)}" if names else "not said"


def _backed_up(copies: list[Copy]) -> str:
    """Yes, no or unknown, and where (one field of the sample)."""
    good = [one for one in copies if one.verified_at and not one.reported_bad]
    if not good:
        return "no copy is in the book" if not copies else "unknown: no copy is verified"
    where = sorted({str(one.place or one.place_words or "our drive") for one in good})
    return f"yes: {len(good)}, at {', '.join(where)}"


def _hand(row: Wipe, people: dict[str, Person]) -> Hand:
    person = people.get(row.entered_by)
    organization = str(person.organisation or "") if person else ""
    title, phone = (person.get_role_display(), person.phone) if person else ("", "")
    return Hand(row.entered_by, title, organization, row.entered_at, row.place_words, phone)
