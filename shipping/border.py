"""The list a consignment crosses a border under: drafted from what travels, checked, issued, then never changed."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db import IntegrityError, transaction

from inventory.ledger import Witness
from inventory.models import Holding, Item
from shipping.models import BorderLine, BorderList, ConsignmentCase, Leg, Show
from shipping.packing.facts import Finding
from shipping.planning import cases_on, findings_for_border, loaded_on
from shipping.planning.pieces import held_by
from shipping.sealing import in_the_way
from shipping.waiving import standing

CHANGEABLE = ("description", "serial", "pieces", "mass_kg", "value", "currency", "origin", "owner_consents")


class BorderRefusal(ValueError):
    """The list stays as it is. Carries a sentence, and the findings that stand in the way."""

    def __init__(self, sentence: str, findings: Sequence[Finding] = ()) -> None:
        super().__init__(sentence)
        self.findings = list(findings)


@dataclass(frozen=True, slots=True)
class Crossing:
    """One border on one leg: which lines go across now, which stay, and what travels without a line."""

    out: tuple[BorderLine, ...]
    not_out: tuple[BorderLine, ...]
    not_listed: tuple[Item, ...]

    @property
    def sentence(self) -> str:
        lines = f"{len(self.out)} of {len(self.out) + len(self.not_out)} lines go across"
        extra = len(self.not_listed)
        return (
            f"{lines}; {extra} thing{'s' if extra != 1 else ''} on the leg {'are' if extra != 1 else 'is'} on no line."
        )


@transaction.atomic
def draft(
    show: Show, number: str, *, valid_until: date | None = None, consignments: Collection[int] = ()
) -> BorderList:
    """A new list with one line for each thing that travels with a show, case by case. Not issued yet."""
    number = number.strip()
    if not number:
        raise BorderRefusal("Give the list its number.")
    travels = ConsignmentCase.objects.filter(consignment__show=show).order_by("consignment_id", "position")
    if consignments:
        travels = travels.filter(consignment__in=consignments)
    cases = list(dict.fromkeys(travels.values_list("case_id", flat=True)))
    if not cases:
        raise BorderRefusal(f"No case travels with {show} yet. Make a consignment first.")
    try:
        with transaction.atomic():
            made = BorderList.objects.create(show=show, number=number, valid_until=valid_until)
    except IntegrityError as taken:
        raise BorderRefusal(f"There is a list {number} already. A list once made keeps its number.") from taken
    BorderLine.objects.bulk_create(_lines(made, cases))
    return made


def _lines(made: BorderList, case_ids: Sequence[int]) -> list[BorderLine]:
    held = held_by(case_ids)
    rows = sorted(held.rows, key=lambda row: (case_ids.index(held.case_of[row.item_id]), row.item_id))
    return [_line(made, n, row.item, held.case_of[row.item_id]) for n, row in enumerate(rows, start=1)]


def _line(made: BorderList, number: int, item: Item, case_id: int) -> BorderLine:
    kind = item.type
    return BorderLine(
        border_list=made, line=number, item=item, case_id=case_id, serial=item.serial, pieces=item.quantity,
        description=f"{kind.get_kind_display()}, {kind}"[:250], currency=kind.currency, origin=kind.country_of_origin,
        mass_kg=None if kind.mass_kg is None else kind.mass_kg * item.quantity,
        value=None if kind.replacement_value is None else kind.replacement_value * item.quantity,
        owner_consents=item.owner.is_ours,
    )  # fmt: skip


def _hold(border: BorderList) -> BorderList:
    held = BorderList.objects.select_for_update().get(pk=border.pk)
    if held.issued_at is not None:
        raise BorderRefusal(
            f"List {held.number} was issued on {held.issued_at:%d %B %Y}: nothing is added to it or changed. "
            "A mistake needs a new list, or the word of whoever issued it."
        )
    return held


@transaction.atomic
def mend(line: BorderLine, **changes: object) -> BorderLine:
    """Change a line of a list that is not issued yet."""
    _hold(line.border_list)
    strange = set(changes) - set(CHANGEABLE)
    if strange:
        raise BorderRefusal(f"A line has no {', '.join(sorted(strange))} to change.")
    for name, value in changes.items():
        setattr(line, name, value)
    line.full_clean(exclude=["border_list", "item", "case"])
    line.save(update_fields=list(changes))
    return line


@transaction.atomic
def leave_out(line: BorderLine) -> None:
    """Take a line off a list that is not issued yet, and close the gap in the numbers."""
    border = _hold(line.border_list)
    number = line.line
    line.delete()
    for later in border.lines.filter(line__gt=number).order_by("line"):
        later.line -= 1
        later.save(update_fields=["line"])


@transaction.atomic
def issue(border: BorderList, *, by: Witness, at: datetime) -> BorderList:
    """Freeze the list. Refused while a block stands that no recorded decision covers."""
    held = _hold(border)
    if not held.lines.exists():
        raise BorderRefusal("This list has no lines.")
    blocks = [one.finding for one in standing(findings_for_border(held, at)) if one.blocks]
    if blocks:
        raise BorderRefusal(f"List {held.number} is not issued. {in_the_way(len(blocks), 'issuing it')}", blocks)
    held.issued_at, held.issued_by = at, by.name
    held.save(update_fields=["issued_at", "issued_by"])
    return held


def why_not_printed(border: BorderList, at: datetime) -> str:
    """What stands in the way of printing this list now, with the way out; empty where nothing does."""
    blocks = [one.finding for one in standing(findings_for_border(border, at)) if one.blocks]
    if blocks:
        told = " ".join(finding.sentence for finding in blocks[:3])
        return f"List {border.number} is not printed. {in_the_way(len(blocks), 'printing it')} {told}"
    if border.issued_at is None:
        return f"List {border.number} is a draft still. Issue it first: what is printed does not change any more."
    return ""


def crossing(border: BorderList, leg: Leg) -> Crossing:
    """Set the list against what is on a leg: as loaded where anything is, else as planned."""
    held = held_by(sorted(loaded_on(leg) or cases_on(leg)))
    here = set(held.case_of)
    lines = list(border.lines.select_related("item__type", "case"))
    listed = {line.item_id for line in lines}
    out = tuple(line for line in lines if line.item_id in here)
    return Crossing(out, tuple(line for line in lines if line.item_id not in here), _extra(held.rows, listed))


def _extra(rows: Iterable[Holding], listed: Collection[int | None]) -> tuple[Item, ...]:
    return tuple(row.item for row in rows if row.item_id not in listed and row.item.serial)
