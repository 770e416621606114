"""What should come back: the things people leave behind first, then case by case, twins by serial."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from inventory.models import Item
from inventory.papers import Draft, Form, moment
from shipping.documents.around import Around
from shipping.documents.stowage import Stowed, hired_from, tail_of
from shipping.models import Show
from shipping.outcomes import Line, Outcome
from shipping.reconcile import Reconciliation

FORM = Form("return-checklist", "return checklist", "show", ("a4", "letter"), values=True)
CODES = "L left in place · H hired, back to its owner · C with client · D damaged · X lost · N not checked"


@dataclass(frozen=True, slots=True)
class ReturnLine:
    """`by_now` is what the book says became of it so far; `ticked` spares the pen where it is back and was seen."""

    key: str
    words: str
    code: str
    serial: str
    quantity: int
    case: str
    owner: str
    twin: bool
    by_now: str
    ticked: bool
    condition: str = ""
    plain: bool = False  # what its case says of most things holds for it too: no words needed


@dataclass(frozen=True, slots=True)
class ReturnCase:
    key: str
    label: str
    colour: str
    seal: str
    by_now: str
    ticked: bool
    lines: tuple[ReturnLine, ...]
    most: str = ""


@dataclass(frozen=True, slots=True)
class ReturnChecklist:
    show: str
    code: str
    due: str
    by_now: str
    runaways: tuple[ReturnLine, ...]
    cases: tuple[ReturnCase, ...]
    besides: tuple[str, ...]
    pieces: int
    codes: str


def runs_away(row: Stowed, around: Around) -> bool:
    """Is this a thing that some system marks as easily left behind?"""
    part = around.part(row.item)
    return bool(part and part.left_behind_prone)


def _written(
    item: Item, case: str, around: Around, by_now: str, line: Line | None = None, *, most: str = ""
) -> ReturnLine:
    twin = around.has_twin(item)
    return ReturnLine(
        key=str(item.id), words=item.name or str(item.type), code=item.code,
        serial=item.serial if twin else tail_of(item), quantity=item.quantity, case=case, owner=hired_from(item),
        twin=twin, by_now=by_now, ticked=bool(line and line.outcome == Outcome.BACK),
        condition=line.condition if line else "", plain=by_now == most,
    )  # fmt: skip


def _looked_for_elsewhere(line: Line) -> bool:
    return bool(line.likely) and line.left_in is not None and line.likely[0].name != line.left_in.words


def _most(lines: Sequence[Line]) -> str:
    """What the book says of most things of a case that nobody has looked for: said once, at the case."""
    said = Counter(outcome_words(line) for line in lines if line.outcome == Outcome.NOT_LOOKED and line.other is None)
    words, count = said.most_common(1)[0] if said else ("", 0)
    return words if count > 1 else ""


def outcome_words(line: Line) -> str:
    """The one outcome of a thing with its witness, and where to look while it is owed."""
    parts = [str(line.outcome)]
    if line.evidence is not None:
        parts.append(f"{moment(line.evidence.at)}, {line.evidence.by}")
    if line.due_at is not None:
        parts.append(f"promised for {moment(line.due_at)}{f' by {line.person}' if line.person else ''}")
    if line.other is not None:
        parts.append(f"{line.other.serial or line.other.words} lies in its place")
    if line.likely and (line.left_in is None or _looked_for_elsewhere(line)):
        parts.append(f"look in {line.likely[0].name}: {line.likely[0].why}")
    return " · ".join(parts)


def _by_hire(rows: Sequence[ReturnLine]) -> tuple[ReturnLine, ...]:
    """Hired things first: they cost by the day."""
    return tuple(sorted(rows, key=lambda line: not line.owner))


def _case(
    case: Item | None,
    lines: Sequence[ReturnLine],
    around: Around,
    by_now: str = "",
    *,
    ticked: bool = False,
    most: str = "",
) -> ReturnCase:
    if case is None:
        return ReturnCase("loose", "not in a case", "", "", by_now, ticked, _by_hire(lines), most)
    system = case.home_system
    colour = system.colour if system else ""
    return ReturnCase(str(case.id), str(case), colour, around.seal(case), by_now, ticked, _by_hire(lines), most)


def _planned(show: Show, around: Around) -> tuple[list[ReturnLine], list[ReturnCase]]:
    """Before anything has left: what is to go."""
    runaways, cases = [], []
    for trip in around.trips(show):
        rows = around.rows(trip.case, show)
        lines = [_written(row.item, str(trip.case), around, around.evidence.sure(row.item)) for row in rows]
        runaways += [line for row, line in zip(rows, lines, strict=True) if runs_away(row, around)]
        cases.append(_case(trip.case, lines, around, "not left yet"))
    return runaways, cases


def _left(told: Reconciliation, around: Around) -> tuple[list[ReturnLine], list[ReturnCase]]:
    """Once something has left: exactly what left, each with its one outcome so far."""
    items = around.items(line.item.id for line in told.lines)
    runaways, cases = [], []
    for group in told.by_case():
        name, most = group.case.words if group.case else "", _most(group.lines)
        lines = [_written(items[one.item.id], name, around, outcome_words(one), one, most=most) for one in group.lines]
        runaways += [line for one, line in zip(group.lines, lines, strict=True) if one.runaway and not one.settled]
        case = around.case(group.case.id) if group.case else None
        by_now = outcome_words(group.line) if group.line else ""
        ticked = bool(group.line and group.line.settled)
        cases.append(_case(case, lines, around, by_now, ticked=ticked, most=most))
    return runaways, cases


def build(show: Show, medium: str, around: Around) -> Draft:
    told = around.reconciled(show)
    runaways, cases = _left(told, around) if told.lines else _planned(show, around)
    pieces = sum(line.quantity for case in cases for line in case.lines)
    body = ReturnChecklist(
        show=show.name, code=show.code, due=moment(show.back_at), by_now=told.sentence, runaways=_by_hire(runaways),
        cases=tuple(cases), besides=tuple(stranger.sentence for stranger in told.strangers), pieces=pieces, codes=CODES,
    )  # fmt: skip
    return Draft(FORM, medium, show.code, f"Return checklist {show.name}", body, show.code)
