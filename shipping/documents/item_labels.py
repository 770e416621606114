"""Labels for what lies in cases: items, drives, cords."""

from __future__ import annotations

from dataclasses import dataclass

from django.conf import settings

from inventory.labels import address
from inventory.models import Item
from inventory.papers import Draft, Form
from shipping.documents.around import Around
from shipping.documents.stowage import hired_from, tail_of

ITEM = Form("item-label", "item label", "item", ("62x29", "a4", "letter"))
DRIVE = Form("drive-label", "drive label", "item", ("62x22",))
CORD = Form("cord-flag", "cord flag", "item", ("90x24",))


@dataclass(frozen=True, slots=True)
class ItemLabel:
    owner: str
    code: str
    qr: str
    model: str
    serial_tail: str
    home_case: str
    colour: str


@dataclass(frozen=True, slots=True)
class DriveLabel:
    set_name: str
    bay: str
    capacity: str
    serial_tail: str
    code: str
    qr: str


@dataclass(frozen=True, slots=True)
class CordFlag:
    code: str
    qr: str
    name: str
    length: str
    connector: str
    home_case: str
    colour: str


def _colour(item: Item) -> str:
    system = item.home_system or (item.home_case.home_system if item.home_case else None)
    return system.colour.upper() if system else ""


def _home(item: Item) -> str:
    return str(item.home_case.number or "") if item.home_case else ""


def build_item(item: Item, medium: str, around: Around) -> Draft:
    code = item.code
    owner = hired_from(item) or settings.OWNER_NAME or item.owner.name
    body = ItemLabel(owner, code, address(code), item.name or str(item.type), tail_of(item), _home(item), _colour(item))
    return Draft(ITEM, medium, code, f"Item label {code}", body, item=item)


def capacity_words(gigabytes: int | None) -> str:
    if gigabytes is None:
        return ""
    return f"{gigabytes / 1000:g} TB" if gigabytes >= 1000 else f"{gigabytes} GB"


def build_drive(item: Item, medium: str, around: Around) -> Draft:
    """The QR holds the bare code, so that it stays coarse enough to read at this size."""
    code = item.code
    drive_set, bay = around.membership(item)
    body = DriveLabel(
        drive_set.name if drive_set else "no set", bay, capacity_words(item.type.capacity_gb), tail_of(item), code,
        code.upper(),
    )  # fmt: skip
    return Draft(DRIVE, medium, code, f"Drive label {code}", body, item=item)


def build_cord(item: Item, medium: str, around: Around) -> Draft:
    code = item.code
    length = item.type.cord_length_mm
    body = CordFlag(
        code, code.upper(), item.name or item.type.name, f"{length / 1000:g} m" if length else "",
        item.type.connector, _home(item), _colour(item),
    )  # fmt: skip
    return Draft(CORD, medium, code, f"Cord flag {code}", body, item=item)
