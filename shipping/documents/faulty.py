"""What hangs on a thing that is not to be trusted, and the report of what happened to it."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass

from django.conf import settings

from inventory.labels import address
from inventory.models import Item
from inventory.papers import LONGEST, Draft, Form
from shipping.documents.around import Around
from shipping.documents.case_list import money
from shipping.documents.mishaps import Mishap
from shipping.documents.stowage import hired_from, tail_of

TAG = Form("fault-tag", "fault tag", "item", ("100x50",))
REPORT = Form("damage-report", "damage report", "item", ("a4", "letter"), values=True)
MOST_LINES = 8  # of LONGEST characters each: several times what the form for a fault takes


@dataclass(frozen=True, slots=True)
class FaultTag:
    """Red, tied on, with a stub to tear off. What nobody has told yet is a line for the pen."""

    code: str
    qr: str
    model: str
    serial_tail: str
    home: str
    what: str
    date: str
    name: str
    more: int


@dataclass(frozen=True, slots=True)
class Told:
    """One fault in the words it was told in, in as many lines as they need."""

    key: str
    words: tuple[str, ...]
    when: str
    where: str
    by: str
    stage: str
    condition: str
    photo: str


@dataclass(frozen=True, slots=True)
class DamageReport:
    thing: str
    code: str
    serial: str
    number: str
    home: str
    owner: str
    value: str
    sure: str
    faults: tuple[Told, ...]
    out_of_use: str
    phone: str


def _home(item: Item) -> str:
    parts = [str(item.home_case.number or "") if item.home_case else "", str(item.home_system or "")]
    return " · ".join(part for part in parts if part)


def build_tag(item: Item, medium: str, around: Around) -> Draft:
    """The newest open fault; how many more there are stands beside it."""
    faults, code = around.mishaps.of(item), item.code
    newest = faults[-1] if faults else None
    body = FaultTag(
        code=code, qr=address(code), model=item.name or str(item.type), serial_tail=tail_of(item), home=_home(item),
        what=newest.what if newest else "", date=newest.when if newest else "", name=newest.by if newest else "",
        more=max(0, len(faults) - 1),
    )  # fmt: skip
    return Draft(TAG, medium, code, f"Fault tag {code}", body, item=item)


def _told(one: Mishap) -> Told:
    lines = [part for line in one.what.splitlines() for part in textwrap.wrap(line, LONGEST)]
    if len(lines) > MOST_LINES:
        lines = [*lines[:MOST_LINES], "The rest stands in the book."]
    return Told(
        one.key, tuple(lines) or ("not said",), one.when, one.where, one.by, one.stage, one.condition, one.photo
    )


def build_report(item: Item, medium: str, around: Around) -> Draft:
    """All open faults of a thing; whose fault it was is for people to settle, so that stays a line for the pen."""
    code, kind = item.code, item.type
    body = DamageReport(
        thing=item.name or str(kind), code=code, serial=item.serial or tail_of(item), number=item.number or "",
        home=_home(item), owner=hired_from(item) or "ours",
        value=money(kind.replacement_value, kind.currency), sure=around.evidence.sure(item),
        faults=tuple(_told(one) for one in around.mishaps.of(item)), out_of_use=around.mishaps.out_of_use(item),
        phone=settings.OWNER_PHONE,
    )  # fmt: skip
    return Draft(REPORT, medium, code, f"Damage report {code}", body, item=item)
