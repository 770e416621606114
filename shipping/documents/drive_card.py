"""The card inside the lid of a drive box: bay by bay, big enough for a marker. A show's code, never a name."""

from __future__ import annotations

from dataclasses import dataclass

from django.conf import settings

from inventory.models import Item, Kind
from inventory.papers import Draft, Form
from shipping.documents.around import Around
from shipping.documents.evidence import box_word, content_word
from shipping.documents.stowage import Stowed, tail_of

FORM = Form("drive-card", "drive box card", "case", ("100x150",))


@dataclass(frozen=True, slots=True)
class CardCell:
    key: str
    bay: str
    serial_tail: str
    set_name: str
    remark: str
    state: str


@dataclass(frozen=True, slots=True)
class DriveCard:
    number: str
    code: str
    sets: str
    cells: tuple[CardCell, ...]
    pocket: tuple[CardCell, ...]
    state: str
    drives: int
    holder: str
    phone: str
    owner: str
    owner_phone: str
    show: str = ""  # the code of the show it goes to next; "" for a discreet one, written by hand where it must be


def _cell(row: Stowed, around: Around) -> CardCell:
    drive_set, bay = around.membership(row.item)
    name = drive_set.name if drive_set else "no set"
    remark = "" if row.here else "not in the box"
    if row.here and bay and row.bay and bay != row.bay:
        remark = f"its bay is {bay}"
    state = content_word(around.evidence.wipe(row.item)) if row.item.type.kind == Kind.DRIVE else "no drive"
    return CardCell(row.bay or f"-{row.item.id}", row.bay or bay, tail_of(row.item), name, remark, state)


def build(case: Item, medium: str, around: Around) -> Draft:
    """One cell per slot in order, then what lies in pockets; states are the wipe answer's."""
    show = around.next_show(case)
    rows = around.rows(case, show)
    container = getattr(case.type, "container", None)
    compartments = list(container.compartments.all()) if container else []
    slots = [one.label for one in compartments if one.kind != "pocket"]
    by_slot = {row.bay: _cell(row, around) for row in rows if row.here and row.bay in slots}
    cells = tuple(by_slot.get(label) or CardCell(label, label, "", "", "empty", "") for label in slots)
    rest = tuple(_cell(row, around) for row in rows if row.bay not in slots)
    names = sorted({cell.set_name for cell in (*cells, *rest) if cell.set_name not in {"", "no set"}})
    number, hands = case.number or case.code, around.evidence.hands(case)
    inside = [row.item for row in rows if row.here and row.item.type.kind == Kind.DRIVE]
    body = DriveCard(
        number, case.code, " + ".join(names) or "no set", cells, rest,
        box_word(around.evidence.wipe(drive) for drive in inside), len(inside), hands.name, hands.phone,
        settings.OWNER_NAME or case.owner.name, settings.OWNER_PHONE, show.code if show and not show.discreet else "",
    )  # fmt: skip
    return Draft(FORM, medium, number, f"Drive box card {number}", body, item=case)
