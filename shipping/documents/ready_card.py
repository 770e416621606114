"""The card on a prepared system: verdict, who signed it, how long it ran and with what, inspections, open notes."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from inventory.answers.readiness_rows import Readiness
from inventory.models import Item, System
from inventory.papers import Draft, Form, moment
from inventory.trials import Trial
from shipping.documents.around import Around

FORM = Form("ready-card", "ready card", "system", ("100x150", "a6"))
NOTES = 6  # that a card has room for; the rest stand on the system's page


@dataclass(frozen=True, slots=True)
class Ran:
    """One thing of the system as somebody last ran it."""

    key: str
    words: str
    hours: str
    software: str
    show_file: str
    by: str


@dataclass(frozen=True, slots=True)
class ReadyCard:
    """`besides` are notes of the moment; `stands` says what is against it, so that a new reason makes a card stale."""

    system: str
    colour: str
    for_show: str
    day: str
    answer: str
    stands: tuple[str, ...]
    signed: str
    signed_by: str
    signed_at: str
    inspected_to: str
    first_due: str
    not_inspected: int
    runs: tuple[Ran, ...]
    looked: int
    looks: int
    besides: tuple[str, ...]


def stands(told: Readiness) -> tuple[str, ...]:
    """The reasons against it, each word once with how many."""
    return tuple(f"{count} × {word}" for word, count in Counter(reason.word for reason in told.reasons).items())


def _inspections(told: Readiness) -> tuple[str, str, int]:
    """The first date on which an inspection runs out, what it is of, and how many things have none."""
    fills = {one.item.id: one for part in told.parts for one in part.fills if one.inspection_asked}
    due = sorted(
        ((one.inspection_due, one.item.words) for one in fills.values() if one.inspection_due), key=lambda one: one[0]
    )
    first = (f"{due[0][0]:%d %b %Y}", due[0][1]) if due else ("", "")
    return *first, sum(one.inspection_due is None for one in fills.values())


def _ran(item: Item, one: Trial) -> Ran:
    said = [seen for seen in (one.hours, one.software, one.show_file) if seen]
    return Ran(
        key=str(item.pk), words=str(item), hours=one.hours.value if one.hours else "",
        software=one.software.value if one.software else "",
        show_file=one.show_file.value if one.show_file else "",
        by=", ".join(sorted({f"{seen.by}, {moment(seen.at)}" for seen in said})),
    )  # fmt: skip


def build(system: System, medium: str, around: Around) -> Draft:
    """READY is worked out, never set; the signature is a person's, with the reasons they saw."""
    readied = around.readied
    told, show, signature = readied.readiness(system), readied.show_of(system), readied.signature(system)
    date, of, none = _inspections(told)
    checks = readied.checks(system)
    runs = tuple(_ran(item, one) for item, one in readied.runs(system))
    body = ReadyCard(
        system=system.name, colour=system.colour.upper(), for_show=show.code if show else "",
        day=f"{told.on:%d %b %Y}" if show else "",
        answer=told.answer, stands=stands(told), signed=signature.answer if signature else "",
        signed_by=signature.by if signature else "", signed_at=moment(signature.at) if signature else "",
        inspected_to=date, first_due=of, not_inspected=none, runs=runs,
        looked=sum(one.at is not None for one in checks), looks=len(checks),
        besides=tuple(reason.sentence for reason in (*told.reasons, *told.remarks))[:NOTES],
    )  # fmt: skip
    return Draft(FORM, medium, system.slug, f"Ready card {system.name}", body, show.code if show else "")
