"""Every kind of paper, what it is about, and who builds it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import models

from inventory import papers
from inventory.models import IssuedPaper, Item, LabelKind, System
from inventory.papers import Draft, Form
from inventory.registering import label_kind
from shipping.documents import (
    case_label,
    case_list,
    day_sheet,
    drive_card,
    item_labels,
    last_look,
    packing_list,
    return_checklist,
    truck_sheet,
)
from shipping.documents.around import WORDS, Around
from shipping.models import Leg, Show

Subject = Item | Show | Leg

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
        (packing_list.FORM, packing_list.build),
        (day_sheet.FORM, day_sheet.build),
        (truck_sheet.FORM, truck_sheet.build),
        (return_checklist.FORM, return_checklist.build),
        (last_look.FORM, last_look.build),
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


def form_of(kind: str) -> Form:
    """Raises NoSuchPaper."""
    if kind not in BUILDERS:
        raise NoSuchPaper(f"There is no paper called {kind}. There are: {', '.join(BUILDERS)}.")
    return BUILDERS[kind][0]


def _things() -> models.QuerySet[Item]:
    related = Item.objects.select_related(*WORDS)
    return related.prefetch_related("labels", "type__container__compartments")


def _legs() -> models.QuerySet[Leg]:
    return Leg.objects.select_related("consignment__show", "vehicle__type__container", "from_place", "to_place")


def find_item(text: str) -> Item:
    """A thing by its number, an old number, or any of its codes. Raises NoSuchPaper."""
    known, wanted = _things(), text.strip().upper()
    found = (
        known.filter(number__iexact=wanted).first()
        or known.filter(labels__code__iexact=wanted).first()
        or known.filter(aliases__number__iexact=wanted).first()
    )
    if found is None:
        raise NoSuchPaper(f"Nothing here has the code or number {text}.")
    return found


def _leg_number(subject: str) -> int:
    number = subject.removeprefix("leg ").strip()
    return int(number) if number.isdecimal() and number.isascii() and len(number) < 10 else 0


def subject_of(form: Form, subject: str) -> Subject:
    """What the paper is about, from its subject as written on the paper. Raises NoSuchPaper."""
    if form.per in {"case", "item"}:
        return _fitting(form, find_item(subject))
    if form.per == "show":
        found: Subject | None = Show.objects.filter(code=subject).select_related("venue", "lead").first()
    else:
        found = _legs().filter(pk=_leg_number(subject)).first()
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
    return BUILDERS[kind][1](about, medium, Around([about], at))


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
    found = _things().filter(home_system=system, retired_at=None).order_by("number", "pk")
    return [item for item in found if LABEL_KINDS[label_kind(item.type)] == kind]


def _subjects(issued: Sequence[IssuedPaper]) -> dict[int, Subject]:
    """What each paper is about, by the paper's key, in one query per kind of subject."""
    per = {paper.pk: form_of(paper.kind).per for paper in issued}
    items = {item.id: item for item in _things().filter(papers__in=[p.pk for p in issued]).distinct()}
    codes = {paper.subject for paper in issued if per[paper.pk] == "show"}
    shows = {show.code: show for show in Show.objects.filter(code__in=codes).select_related("venue", "lead")}
    numbers = {_leg_number(paper.subject) for paper in issued if per[paper.pk] == "leg"}
    legs = {leg.pk: leg for leg in _legs().filter(pk__in=numbers)}
    found: dict[int, Subject] = {}
    for paper in issued:
        about: Subject | None = items.get(paper.item_id) if paper.item_id else shows.get(paper.subject)
        about = about or legs.get(_leg_number(paper.subject))
        if about is not None:
            found[paper.pk] = about
    return found


def looked_at(issued: Sequence[IssuedPaper], at: datetime) -> list[Issued]:
    """Issued papers with what has changed since, so that stale ones are known. A bounded number of queries."""
    subjects = _subjects(issued)
    around = Around(subjects.values(), at)
    return [Issued(paper, form_of(paper.kind), _changed(paper, subjects.get(paper.pk), around)) for paper in issued]


def _changed(paper: IssuedPaper, about: Subject | None, around: Around) -> tuple[str, ...]:
    if about is None:
        return (f"{paper.subject} is no longer in the book",)
    now = BUILDERS[paper.kind][1](about, paper.medium, around)
    if now.reference != paper.reference:
        return (f"was made for {paper.reference or 'no show'}, would now be for {now.reference or 'no show'}",)
    return tuple(papers.changes(paper, now.body))
