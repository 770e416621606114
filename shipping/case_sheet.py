"""All that one case's page says: may it close, what stands in the way, what is in it, what it weighs. Reads only."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.utils.safestring import SafeString

from inventory.answers.contents import contents
from inventory.answers.loading import live
from inventory.answers.values import ContentLine, Contents, Strength
from inventory.drawings.section import SlotPiece, case_section, kilograms, slot_view
from inventory.models import Entry, Item, Label
from shipping.case_balance import drawing_of_lowest, section_of
from shipping.models import Leg, Show
from shipping.packing import facts
from shipping.packing.balancing import CaseBalance, balance_of
from shipping.packing.facts import Finding, State
from shipping.packing.lifting import Band, band
from shipping.packing.rules import RULES, Rule, limit_in
from shipping.packing.rules.registry import FOR_THE_TYPE
from shipping.packing.weighing import Weighing, suspects_in, weighing
from shipping.piles import Piles, piles
from shipping.planning import coming_leg, judged_case, other_day
from shipping.planning.loose import loose_near
from shipping.sealing import in_the_way, should_have_kept
from shipping.waiving import standing


@dataclass(frozen=True, slots=True)
class Asked:
    """One question of the short list. `measure` is the unit where a number is asked instead of yes or no."""

    rule: Rule
    sentence: str
    measure: str

    @property
    def for_the_type(self) -> bool:
        return self.rule.lasts == FOR_THE_TYPE


@dataclass(frozen=True, slots=True)
class CaseLine:
    """One thing that belongs here, is here, or both."""

    id: int
    name: str
    slot: str
    expected: bool
    here: bool
    remark: str
    depth: int = 0
    code: str = ""
    sure: str = ""
    seen_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class CaseSheet:
    case: Item
    facts: facts.Case
    show: Show | None
    leg: Leg | None
    word: str
    meaning: str
    sentence: str
    piles: Piles
    asked: tuple[Asked, ...]
    lines: tuple[CaseLine, ...]
    lift: Band
    weighing: Weighing | None
    balance: CaseBalance | None
    lowest: SafeString | str
    drawing: SafeString | str
    photo: Entry | None
    inside: Contents
    limits_of: date | None = None

    @property
    def key(self) -> str:
        """What the address of its page calls it."""
        return self.case.number or self.case.code or str(self.case.pk)

    @property
    def can_close(self) -> bool:
        return not self.piles.blocks and not self.facts.seal

    @property
    def photo_answers(self) -> bool:
        """Is anything asked that one photo could show?"""
        return any(not one.measure for one in self.asked)


def sheet_of(case: Item, at: datetime, show: Show | None = None) -> CaseSheet:
    """Judge one case and lay out what its page says."""
    leg = coming_leg(case, at, show)
    show = show or (leg.consignment.show if leg else None)
    about, findings, load = judged_case(case, at, leg, show)
    sorted_out = piles(standing(findings))
    word, meaning, sentence = verdict(about, len(sorted_out.blocks))
    person_kg = limit_in(load, "lift-band", "person_kg")
    inside = contents(case, at)
    sure = {line.item.id: line for line in inside.lines if line.here}
    balanced, limit = balance_of(about), limit_in(load, "heavy-low", "cog_pct")
    return CaseSheet(
        case=case, facts=about, show=show, leg=leg, word=word, meaning=meaning, sentence=sentence,
        piles=sorted_out, asked=asked_of(findings),
        lines=_with_codes(_lines(about), sure), lift=band(about.gross_kg, person_kg),
        weighing=_weighing(case, about, load, sure),
        balance=balanced, lowest=drawing_of_lowest(about, balanced, limit),
        drawing=drawing(about, findings, balanced, limit), photo=good_pack(case, at),
        limits_of=other_day(load, at), inside=inside,
    )  # fmt: skip


def verdict(about: facts.Case, blocks: int) -> tuple[str, str, str]:
    """The word, its meaning and the sentence that lead the page."""
    if about.seal and blocks:
        return "SEALED OVER A BLOCK", "stop", f"Seal {about.seal} is on. {should_have_kept(blocks, 'open')}"
    if about.seal:
        return "SEALED", "settled", f"Closed with seal {about.seal}."
    if blocks:
        return "NOT YET", "stop", in_the_way(blocks)
    if not about.pieces:
        return "EMPTY", "quiet", "Nothing is in it by the book."
    return "CAN CLOSE", "settled", in_the_way(0)


def asked_of(findings: Sequence[Finding]) -> tuple[Asked, ...]:
    """One line a rule, however many things it asks about."""
    found: dict[str, Asked] = {}
    for one in findings:
        if one.state == State.NOT_CONFIRMED and one.rule not in found:
            rule = RULES[one.rule]
            found[one.rule] = Asked(rule, one.sentence, rule.measure)
    return tuple(found.values())


def _lines(about: facts.Case) -> tuple[CaseLine, ...]:
    """What is here in the order of its slots, then what is not."""
    here = [_line(piece, about) for piece in sorted(about.pieces, key=lambda one: (one.within or 0, one.bay, one.name))]
    gone = [
        CaseLine(one.id, one.name, "", True, False, one.where or "nobody has said where it is") for one in about.missing
    ]
    return (*here, *gone)


def _with_codes(lines: Sequence[CaseLine], sure: Mapping[int, ContentLine]) -> tuple[CaseLine, ...]:
    """The lines with a code of each thing for its link, and how sure the ledger is of it."""
    labels = Label.objects.filter(item__in=[line.id for line in lines], retired_at=None).order_by("pk")
    codes = dict(labels.values_list("item_id", "code"))
    return tuple(replace(line, code=codes.get(line.id, ""), **_sure(sure.get(line.id))) for line in lines)


def _sure(line: ContentLine | None) -> dict[str, Any]:
    if line is None or line.strength is None:
        return {}
    evidence = (line.link.evidence or line.link.placing) if line.link else None
    return {"sure": line.strength.value, "seen_at": evidence.at if evidence else None}


def _line(piece: facts.Piece, about: facts.Case) -> CaseLine:
    belongs = piece.belongs_here is not False
    remark = "; ".join(_remarks(piece, belongs))
    slot = f"bay {piece.bay}" if piece.within and piece.bay else piece.bay
    return CaseLine(piece.id, piece.name, slot, belongs, True, remark, 1 if piece.within else 0)


def _remarks(piece: facts.Piece, belongs: bool) -> Iterator[str]:
    if not belongs and piece.home_case:
        yield f"belongs in {piece.home_case}"
    if piece.fault:
        yield f"fault: {piece.fault}"
    if piece.hired_from:
        until = f" until {piece.off_hire_on:%-d %B}: it goes back first" if piece.off_hire_on else ""
        yield f"hired from {piece.hired_from}{until}"


# What the ledger is not sure of, in words; what was seen here or sealed in is left out.
DOUBTS = {
    Strength.CARRIED: "nobody has seen it here since, only what carries it",
    Strength.WAS_IN_HERE: "it was put in here, and the case was open after that",
    Strength.SAID: "that it is here was only said",
    Strength.PLANNED_ONLY: "it was planned to be here, nobody saw it",
    Strength.IN_DISPUTE: "two stories are told of where it is",
    Strength.UNKNOWN: "nobody knows where it is",
    Strength.MISSING: "it was reported missing",
}


def _weighing(case: Item, about: facts.Case, load: facts.Load, sure: Mapping[int, ContentLine]) -> Weighing | None:
    """The scale beside the sum. What may lie about is asked of the book only where the two are apart."""
    tolerance, scale = limit_in(load, "scale-agrees", "tol_pct"), limit_in(load, "scale-agrees", "scale_kg")
    gap = (about.weighed_kg or Decimal(0)) - (about.computed_kg or Decimal(0))
    apart = about.weighed_kg is not None and about.computed_kg is not None and abs(gap) > scale
    suspects = suspects_in(about, loose_near(case, about), _doubts(sure), gap) if apart else []
    return weighing(about, suspects, tolerance_pct=tolerance, scale_kg=scale)


def _doubts(sure: Mapping[int, ContentLine]) -> dict[int, str]:
    return {ident: DOUBTS[line.strength] for ident, line in sure.items() if line.strength in DOUBTS}


def good_pack(case: Item, at: datetime) -> Entry | None:
    """The newest picture taken of the packed case."""
    pictures = live(at).filter(label__item=case, photo__isnull=False).exclude(verb="faulted")
    return pictures.order_by("-happened_at", "-pk").first()


def drawing(
    about: facts.Case, findings: Sequence[Finding], balanced: CaseBalance | None, limit: Decimal
) -> SafeString | str:
    """A rack case from the side; a case with slots from above; nothing where its type knows neither."""
    if about.rack_units:
        return case_section(section_of(about, balanced, limit))
    if about.slots:
        return slot_view(about.number, _slots(about, findings))
    return ""


def _slots(about: facts.Case, findings: Sequence[Finding]) -> list[SlotPiece]:
    wrong = {value for one in findings if one.state == State.WRONG for name, value in one.facts if name == "drive"}
    found = []
    for label in about.slots:
        inside = [one for one in about.pieces if one.within is None and one.bay == label]
        masses = [one.total_kg for one in inside]
        mass = None if None in masses else sum((m for m in masses if m is not None), Decimal(0))
        bad = any(str(one.id) in wrong or one.belongs_here is False for one in inside)
        state = "wrong" if bad else "in box" if inside else "empty"
        words = ", ".join(one.serial[-6:] or one.name for one in inside)
        found.append(SlotPiece(label, words, kilograms(mass) if inside else "", state))
    return found
