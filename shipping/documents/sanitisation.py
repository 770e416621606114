"""The record of one wipe on paper: a line a drive, then who did it and who verified it.

The fields are those of the sample certificate in NIST SP 800-88 Rev. 1, section 4.8 and appendix G (from memory; to be
checked against Rev. 2, September 2025, whose method classes clear, purge and destroy it uses).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

from inventory.answers.sanitising import NO_GUARANTEE, Hand, SanitisationLine, WipedDrive, sanitisation_record
from inventory.papers import Draft, Form, moment
from shipping.documents.around import Around
from shipping.documents.subjects import WipeJob

FORM = Form("sanitisation-record", "sanitisation record", "wipe", ("a4", "letter"), values=True)


@dataclass(frozen=True, slots=True)
class RecordLine(WipedDrive):
    key: str


@dataclass(frozen=True, slots=True)
class Signer:
    key: str
    role: str
    name: str
    title: str
    organization: str
    date: str
    location: str
    phone: str


@dataclass(frozen=True, slots=True)
class Record:
    job: str
    outcome: str
    sentence: str
    lines: tuple[RecordLine, ...]
    signers: tuple[Signer, ...]
    words: str


def _line(line: SanitisationLine) -> RecordLine:
    same = {one.name: getattr(line, one.name) for one in fields(WipedDrive)}
    return RecordLine(**same, key=str(line.drive.id))


def _signers(lines: Sequence[SanitisationLine]) -> tuple[Signer, ...]:
    """Everybody who operated or verified, once each, at the last time of it."""
    found: dict[tuple[str, str], Hand] = {}
    for line in lines:
        found["sanitised by", line.sanitizer.name] = line.sanitizer
        if line.validator is not None:
            found["verified by", line.validator.name] = line.validator
    return tuple(
        Signer(f"{role} {name}", role, hand.name, hand.title, hand.organization, moment(hand.date), hand.location,
               hand.phone)
        for (role, name), hand in sorted(found.items())
    )  # fmt: skip


def build(wipe: WipeJob, medium: str, around: Around) -> Draft:
    told = sanitisation_record(wipe.job)
    lines = told.lines if told else ()
    body = Record(
        job=str(wipe.job), outcome=told.answer if told else "nothing", sentence=told.sentence if told else "",
        lines=tuple(_line(line) for line in lines), signers=_signers(lines), words=NO_GUARANTEE,
    )  # fmt: skip
    serials = lines[0].serial if len(lines) == 1 else f"{len(lines)} drives"
    return Draft(FORM, medium, str(wipe.job), f"Sanitisation record {serials}", body)
