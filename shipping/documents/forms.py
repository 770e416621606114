"""Every kind of paper, what it is about, and who builds it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from inventory import papers
from inventory.models import IssuedPaper, Item
from inventory.papers import Draft, Form
from shipping.documents import (
    case_label,
    case_list,
    drive_card,
    item_labels,
    last_look,
    packing_list,
    return_checklist,
    truck_sheet,
)
from shipping.models import Leg, Show

Builder = Callable[[Any, str, datetime], Draft]
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
        (truck_sheet.FORM, truck_sheet.build),
        (return_checklist.FORM, return_checklist.build),
        (last_look.FORM, last_look.build),
    )
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


def find_item(text: str) -> Item:
    """A thing by its number, an old number, or any of its codes. Raises NoSuchPaper."""
    known = Item.objects.with_words().select_related("type__container", "home_case__home_system")
    wanted = text.strip().upper()
    found = (
        known.filter(number__iexact=wanted).first()
        or known.filter(labels__code__iexact=wanted).first()
        or known.filter(aliases__number__iexact=wanted).first()
    )
    if found is None:
        raise NoSuchPaper(f"Nothing here has the code or number {text}.")
    return found


def subject_of(form: Form, subject: str) -> Item | Show | Leg:
    """What the paper is about, from its subject as written on the paper. Raises NoSuchPaper."""
    if form.per in {"case", "item"}:
        item = find_item(subject)
        if form.per == "case" and not hasattr(item.type, "container"):
            raise NoSuchPaper(f"{item} is no case, so it has no {form.words}.")
        return item
    if form.per == "show":
        show = Show.objects.filter(code=subject).select_related("venue").first()
        if show is None:
            raise NoSuchPaper(f"There is no show with the code {subject}.")
        return show
    number = subject.removeprefix("leg ").strip()
    leg = Leg.objects.filter(pk=int(number)).first() if number.isdecimal() and len(number) < 10 else None
    if leg is None:
        raise NoSuchPaper(f"There is no leg {subject}.")
    return leg


def draft(kind: str, subject: str, medium: str, at: datetime) -> Draft:
    """What would be printed now. Raises NoSuchPaper."""
    form = form_of(kind)
    medium = medium or form.media[0]
    if medium not in form.media:
        raise NoSuchPaper(f"A {form.words} is printed on {', '.join(form.media)}; not on {medium}.")
    return BUILDERS[kind][1](subject_of(form, subject), medium, at)


def looked_at(paper: IssuedPaper, at: datetime) -> Issued:
    """An issued paper with what has changed since, so that a stale one is known."""
    form = form_of(paper.kind)
    try:
        now = draft(paper.kind, paper.subject, paper.medium, at)
    except NoSuchPaper as problem:
        return Issued(paper, form, (str(problem),))
    if now.reference != paper.reference:
        return Issued(paper, form, (f"was made for {paper.reference or 'no show'}, now {now.reference or 'no show'}",))
    return Issued(paper, form, tuple(papers.changes(paper, now.body)))
