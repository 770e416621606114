"""Every kind of paper, what it is about, and who builds it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from inventory import papers
from inventory.models import IssuedPaper, Item, LabelKind, System
from inventory.papers import Draft, Form
from inventory.registering import label_kind
from shipping.border import why_not_printed
from shipping.documents import (
    border_list,
    case_label,
    case_list,
    custody_sheet,
    day_sheet,
    discrepancy,
    drive_card,
    faulty,
    item_labels,
    last_look,
    manifest,
    packing_list,
    ready_card,
    receipt,
    release_papers,
    return_checklist,
    sanitisation,
    truck_sheet,
)
from shipping.documents.around import Around
from shipping.documents.subjects import FINDERS, Subject, things
from shipping.models import BorderList

Builder = Callable[[Any, str, Around], Draft]
BUILDERS: dict[str, tuple[Form, Builder]] = {
    form.kind: (form, build)
    for form, build in (
        (case_label.FORM, case_label.build),
        (case_list.INSIDE, case_list.build_inside),
        (case_list.OUTSIDE, case_list.build_outside),
        (drive_card.FORM, drive_card.build),
        (item_labels.ITEM, item_labels.build_item),
        (item_labels.DRIVE, item_labels.build_drive),
        (item_labels.CORD, item_labels.build_cord),
        (faulty.TAG, faulty.build_tag),
        (faulty.REPORT, faulty.build_report),
        (packing_list.FORM, packing_list.build),
        (day_sheet.FORM, day_sheet.build),
        (truck_sheet.FORM, truck_sheet.build),
        (manifest.FORM, manifest.build),
        (border_list.FORM, border_list.build),
        (return_checklist.FORM, return_checklist.build),
        (discrepancy.FORM, discrepancy.build),
        (ready_card.FORM, ready_card.build),
        (last_look.FORM, last_look.build),
        (custody_sheet.FORM, custody_sheet.build),
        (release_papers.REQUEST, release_papers.build_request),
        (release_papers.NOTE, release_papers.build_note),
        (sanitisation.FORM, sanitisation.build),
        (receipt.FORM, receipt.build),
    )
}


LABEL_KINDS = {
    LabelKind.CASE: "case-label",
    LabelKind.ITEM: "item-label",
    LabelKind.DRIVE: "drive-label",
    LabelKind.CORD: "cord-flag",
}


class NoSuchPaper(ValueError):
    """There is no such kind of paper, medium or subject. Carries a sentence to show."""


@dataclass(frozen=True, slots=True)
class Issued:
    """One issued paper as pages list it: `changed` says why it is stale."""

    paper: IssuedPaper
    form: Form
    changed: tuple[str, ...]

    @property
    def code(self) -> str:
        return papers.code_of(self.paper)

    @property
    def size(self) -> str:
        return papers.SIZES.get(self.paper.medium, self.paper.medium)


def form_of(kind: str) -> Form:
    """Raises NoSuchPaper."""
    if kind not in BUILDERS:
        raise NoSuchPaper(f"There is no paper called {kind}. There are: {', '.join(BUILDERS)}.")
    return BUILDERS[kind][0]


def find_item(text: str) -> Item:
    """A thing by its number, an old number, or any of its codes. Raises NoSuchPaper."""
    known, wanted = things(), text.strip().upper()
    found = (
        known.filter(number__iexact=wanted).first()
        or known.filter(labels__code__iexact=wanted).first()
        or known.filter(aliases__number__iexact=wanted).first()
    )
    if found is None:
        raise NoSuchPaper(f"Nothing here has the code or number {text}.")
    return found


def subject_of(form: Form, subject: str) -> Subject:
    """What the paper is about, from its subject as written on the paper. Raises NoSuchPaper."""
    if form.per in {"case", "item"}:
        return _fitting(form, find_item(subject))
    found = FINDERS[form.per]([subject]).get(subject)
    if found is None:
        raise NoSuchPaper(f"There is no {form.per} called {subject}.")
    return found


def _fitting(form: Form, item: Item) -> Item:
    if form.per == "case" and not hasattr(item.type, "container"):
        raise NoSuchPaper(f"{item} is no case, so it has no {form.words}.")
    return item


def draft(kind: str, subject: str, medium: str, at: datetime) -> Draft:
    """What would be printed now. Raises NoSuchPaper."""
    form = form_of(kind)
    medium = medium or form.media[0]
    if medium not in form.media:
        raise NoSuchPaper(f"A {form.words} is printed on {', '.join(form.media)}; not on {medium}.")
    about = subject_of(form, subject)
    if sentence := _refusal(about, at):
        raise NoSuchPaper(sentence)
    return BUILDERS[kind][1](about, medium, Around([about], at))


def _refusal(about: Subject, at: datetime) -> str:
    """What stands in the way of printing; asked when somebody prints, so an old issue stays what it was."""
    return why_not_printed(about, at) if isinstance(about, BorderList) else ""


def drafts(kind: str, items: Sequence[Item], medium: str, at: datetime) -> list[Draft]:
    """Labels of many things at once. Raises NoSuchPaper."""
    form = form_of(kind)
    medium = medium or form.media[0]
    if medium not in form.media:
        raise NoSuchPaper(f"A {form.words} is printed on {', '.join(form.media)}; not on {medium}.")
    around = Around(items, at)
    return [BUILDERS[kind][1](_fitting(form, item), medium, around) for item in items]


def labels_of(system: System, kind: str) -> list[Item]:
    """The things of a system that wear this kind of label: its cases, or all that is at home in it."""
    form_of(kind)
    found = things().filter(home_system=system, retired_at=None).order_by("number", "pk")
    return [item for item in found if LABEL_KINDS[label_kind(item.type)] == kind]


def _subjects(issued: Sequence[IssuedPaper]) -> dict[int, Subject]:
    """What each paper is about, by the paper's key, in one query per kind of subject."""
    items = things().in_bulk({paper.item_id for paper in issued if paper.item_id is not None})
    found: dict[int, Subject] = {p.pk: items[p.item_id] for p in issued if p.item_id in items}
    named: dict[str, list[IssuedPaper]] = defaultdict(list)
    for paper in issued:
        if form_of(paper.kind).per in FINDERS:
            named[form_of(paper.kind).per].append(paper)
    for per, rows in named.items():
        subjects = FINDERS[per]({paper.subject for paper in rows})
        found |= {paper.pk: subjects[paper.subject] for paper in rows if paper.subject in subjects}
    return found


def looked_at(issued: Sequence[IssuedPaper], at: datetime) -> list[Issued]:
    """Issued papers with what has changed since, so that stale ones are known. A bounded number of queries."""
    subjects = _subjects(issued)
    around = Around(subjects.values(), at)
    return [Issued(paper, form_of(paper.kind), _changed(paper, subjects.get(paper.pk), around)) for paper in issued]


def stale(issued: Sequence[IssuedPaper], at: datetime) -> set[int]:
    """The keys of those that would be printed otherwise now."""
    return {one.paper.pk for one in looked_at(issued, at) if one.changed}


def _changed(paper: IssuedPaper, about: Subject | None, around: Around) -> tuple[str, ...]:
    if about is None:
        return (f"{paper.subject} is no longer in the book",)
    now = BUILDERS[paper.kind][1](about, paper.medium, around)
    if now.reference != paper.reference:
        return (f"was made for {paper.reference or 'no show'}, would now be for {now.reference or 'no show'}",)
    return tuple(papers.changes(paper, now.body))
