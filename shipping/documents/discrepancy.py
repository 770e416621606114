"""What is wrong with a return, to send to carrier, venue or owner: seals, things owed or damaged, likely places."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from inventory.models import Item
from inventory.papers import Draft, Form, moment
from shipping.documents.around import Around
from shipping.documents.case_list import money
from shipping.documents.return_checklist import outcome_words
from shipping.models import Leg, Show
from shipping.outcomes import Line

FORM = Form("discrepancy-report", "discrepancy report", "show", ("a4", "letter"), values=True)


@dataclass(frozen=True, slots=True)
class SealFound:
    """A seal whose number is another than the one it left with, or that nobody knew of."""

    key: str
    words: str
    expected: str
    found: str
    by: str
    when: str


@dataclass(frozen=True, slots=True)
class Discrepancy:
    """One thing that is not back as it left. `expected` is the case it left in."""

    key: str
    words: str
    code: str
    serial: str
    owner: str
    expected: str
    actual: str
    witness: str
    likely: str
    value: str


@dataclass(frozen=True, slots=True)
class CarriedBy:
    """Who drove or flew the cases home."""

    key: str
    words: str


@dataclass(frozen=True, slots=True)
class DiscrepancyReport:
    show: str
    code: str
    sentence: str
    wording: str
    carriers: tuple[CarriedBy, ...]
    seals: tuple[SealFound, ...]
    lines: tuple[Discrepancy, ...]
    strangers: tuple[str, ...]
    closed: str


def _line(line: Line, item: Item, around: Around) -> Discrepancy:
    kind = item.type
    worth = None if kind.replacement_value is None else kind.replacement_value * item.quantity
    return Discrepancy(
        key=str(item.id), words=line.item.words, code=item.code, serial=item.serial or "none",
        owner="ours" if item.owner.is_ours else item.owner.name,
        expected=f"in {line.left_in.words}" if line.left_in else "by itself", actual=outcome_words(line),
        witness=f"{line.evidence.by}, {moment(line.evidence.at)}" if line.evidence else "nobody",
        likely=f"{line.likely[0].name}: {line.likely[0].why}" if line.likely else "",
        value=money(worth, kind.currency) or "not entered",
    )  # fmt: skip


def _seals(show: Show, around: Around) -> tuple[SealFound, ...]:
    return tuple(
        SealFound(str(case), str(around.case(case)), look.expected or "none in the book", look.found, look.by,
                  moment(look.at))
        for case, look in around.seals_found(show).items()
        if look.found != look.expected
    )  # fmt: skip


def _carriers(legs: Iterable[Leg]) -> tuple[CarriedBy, ...]:
    found = []
    for leg in legs:
        who = " ".join(part for part in (str(leg.vehicle or ""), leg.carrier, leg.driver, leg.driver_phone) if part)
        waybill = f", waybill {leg.waybill}" if leg.waybill else ""
        found.append(CarriedBy(str(leg.pk), f"{leg.from_place} to {leg.to_place}: {who or leg.mode}{waybill}"))
    return tuple(found)


def wording(cases: Sequence[Line], seals: Sequence[SealFound]) -> str:
    """What may be written on the carrier's delivery note, from what stands in the book. Facts only, no blame."""
    absent = [line.item.words for line in cases if not line.settled]
    said = [f"Received {len(cases) - len(absent)} of {len(cases)} cases."]
    if absent:
        said.append(f"Not received: {', '.join(absent)}.")
    said += [f"{one.words}: seal {one.found} found, {one.expected} expected." for one in seals]
    return " ".join([*said, "Contents not examined at delivery."])


def _ordered(lines: Iterable[Line], items: Mapping[int, Item]) -> list[Line]:
    """Hired things first, for they cost by the day; then what is missed, by the words of the book."""
    return sorted(lines, key=lambda one: (items[one.item.id].owner.is_ours, one.outcome, one.item.words))


def build(show: Show, medium: str, around: Around) -> Draft:
    """Everything of a show that is not back as it left, by what is known when it is printed."""
    told = around.reconciled(show)
    items = around.items(line.item.id for line in told.lines)
    owed = [line for line in told.lines if not line.settled]
    seals = _seals(show, around)
    body = DiscrepancyReport(
        show=show.name, code=show.code, sentence=told.sentence,
        wording=wording([line for line in told.lines if line.is_case], seals) if told.lines else "",
        carriers=_carriers(around.legs(show.pk)), seals=seals,
        lines=tuple(_line(line, items[line.item.id], around) for line in _ordered(owed, items)),
        strangers=tuple(one.sentence for one in told.strangers), closed=around.closing(show),
    )  # fmt: skip
    return Draft(FORM, medium, show.code, f"Discrepancy report {show.name}", body, show.code)
