"""Closing a case by number and opening it again. Asks the rules first; while a block stands nothing is written."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from django.db import transaction

from inventory.answers.loading import live
from inventory.ledger import Fact, Witness, record
from inventory.models import Entry, Grade, Item, Kind, Photo, Verb
from inventory.unchanged import kept
from shipping.models import Show
from shipping.packing.facts import Finding
from shipping.planning import blocks_for_case, findings_for_cases, seals_of
from shipping.waiving import Judged, standing


class SealRefusal(ValueError):
    """The case stays as it is. Carries a sentence, and the findings that stand in the way."""

    def __init__(self, sentence: str, findings: Sequence[Finding] = ()) -> None:
        super().__init__(sentence)
        self.findings = list(findings)


def in_the_way(count: int, of_what: str = "closing it") -> str:
    """ "Two things stand in the way of closing it." """
    return f"{_things(count)} stand{'' if count > 1 else 's'} in the way of {of_what}."


def should_have_kept(count: int, kept: str) -> str:
    """ "Two things should have kept it open." Said of what was done over a block."""
    return f"{_things(count)} should have kept it {kept}."


def _things(count: int) -> str:
    words = ("Nothing", "One thing", "Two things", "Three things", "Four things")
    return words[count] if count < len(words) else f"{count} things"


def hold_case(case: Item) -> Item:
    """Lock a case's row until the transaction ends: packing, sealing and breaking its seal take turns."""
    return Item.objects.select_for_update().get(pk=case.pk)


def next_moment(case: Item, at: datetime) -> datetime:
    """`at`, or just after the newest thing the book has of this case or its inside, where that is later."""
    own = live(at + timedelta(days=1)).filter(label__item=case.pk).order_by("-happened_at").first()
    inside = Entry.objects.filter(place__item=case.pk).order_by("-happened_at").first()
    times = [entry.happened_at + timedelta(microseconds=1) for entry in (own, inside) if entry is not None]
    return max([at, *times])


def sealed_with(case: Item, at: datetime) -> str:
    """The number of the seal that holds, or nothing."""
    return seals_of([case.pk], at).get(case.pk, "")


@transaction.atomic
def seal(
    case: Item, number: str, *, by: Witness, at: datetime, show: Show | None = None, grade: str = Grade.TICK
) -> Entry:
    """Close a case by number. Refuses, and writes nothing, while a block stands that nobody has waived."""
    hold_case(case)
    at = next_moment(case, at)
    number = number.strip()
    if not number:
        raise SealRefusal("Type the number on the seal.")
    if len(number) > 40:
        raise SealRefusal("That is no seal number: it has more than 40 characters.")
    _refuse_sealed(case, at)
    _refuse_used(case, number, at)
    blocks = blocks_for_case(case, at, show)
    if blocks:
        raise SealRefusal(f"{case} is not sealed. {in_the_way(len(blocks))}", blocks)
    reference = show.code if show else ""
    return record([Fact(Verb.SEALED, case, seal=number, grade=grade, reference=reference)], by=by, at=at)[0]


def _refuse_sealed(case: Item, at: datetime) -> None:
    if holds := sealed_with(case, at):
        raise SealRefusal(f"{case} is sealed already, with {holds}. Break that seal first, and say why.")


def _refuse_used(case: Item, number: str, at: datetime) -> None:
    """A numbered seal is used once."""
    used = live(at).filter(verb=Verb.SEALED, seal=number).exclude(label__item=case).select_related("label__item")
    if other := used.first():
        raise SealRefusal(f"Seal {number} was put on {other.label.item}. Read the number again, or take a new seal.")


@transaction.atomic
def break_seal(
    case: Item, *, why: str, by: Witness, at: datetime, found: str = "", new: str = "", photo: Photo | None = None,
    grade: str = Grade.TICK, reference: str = "",
) -> Entry:  # fmt: skip
    """Record that a seal was broken: who, when, why, the number found and the one that follows. Never refused by rules.

    A new number is only noted here; `seal` puts it on, and asks the rules again.
    """
    hold_case(case)
    at = next_moment(case, at)
    if not why.strip():
        raise SealRefusal("Say why the seal was broken: customs, a check, something forgotten.")
    expected = sealed_with(case, at)
    if not expected and not found.strip():
        raise SealRefusal(f"{case} has no seal in the book. If one was on it, type its number.")
    fact = Fact(
        Verb.SEAL_BROKEN, case, seal=found.strip() or expected, note=why.strip(), before=expected, after=new.strip(),
        photo=photo, grade=grade, reference=reference,
    )  # fmt: skip
    return record([fact], by=by, at=at)[0]


def sealed_with_blocks(at: datetime) -> dict[Item, list[Judged]]:
    """Every sealed case over which an unwaived block stands: a scan can seal what the rules would not."""
    blocks = kept("sealed with blocks", at, lambda: _sealed_with_blocks(at))
    cases = Item.objects.filter(pk__in=blocks).with_words().order_by("number", "pk") if blocks else []
    return {case: blocks[case.pk] for case in cases}


def ever_sealed(at: datetime) -> tuple[int, ...]:
    """Every case in stock that was sealed at some time, by their numbers."""
    return kept("ever sealed", at, lambda: _ever_sealed(at))


def _ever_sealed(at: datetime) -> tuple[int, ...]:
    ever = live(at).filter(verb=Verb.SEALED).order_by().values("label__item")
    cases = Item.objects.in_stock().filter(pk__in=ever).exclude(type__kind=Kind.VEHICLE).order_by("number", "pk")
    return tuple(cases.values_list("pk", flat=True))


def _sealed_with_blocks(at: datetime) -> dict[int, list[Judged]]:
    ids = ever_sealed(at)
    closed = seals_of(ids, at)
    shut = list(Item.objects.filter(pk__in=closed).order_by("number", "pk")) if closed else []
    found = findings_for_cases(shut, at, among=ids) if shut else {}
    judged = standing(one for findings in found.values() for one in findings)
    blocks: dict[str, list[Judged]] = {}
    for one in judged:
        if one.blocks:
            blocks.setdefault(one.finding.subject, []).append(one)
    return {case.pk: blocks[f"case:{case.pk}"] for case in shut if f"case:{case.pk}" in blocks}
