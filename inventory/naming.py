"""Which thing a person means: a code, a number it has or had, a serial."""

from __future__ import annotations

import re

from django.db.models import Q
from django.db.models.functions import Upper
from django.db.models.lookups import Exact

from inventory.folding import fold
from inventory.models import DriveSet, Item, ItemAlias, Label

# What a label of a case carries: an address of any host, ending in the code.
_ADDRESS = re.compile(r"^HTTPS?://[^/\s]+/T/([^/\s?#]+)/?$")


def code_in(text: str) -> str:
    """The code that was typed, said or read from a QR, in capitals; an address of any host gives its last part."""
    plain = text.replace("\x00", "").strip().upper()  # PostgreSQL has no NUL in a text
    found = _ADDRESS.match(plain)
    return found.group(1) if found else re.sub(r"\s+", "", plain)


def label_named(text: str) -> Label | None:
    """The label with this code, in any case, bare or as an address."""
    code = code_in(text)
    return Label.objects.select_related("item__type").filter(code=code).first() if code else None


def set_named(text: str) -> DriveSet | None:
    """The drive set that is called so."""
    words = text.replace("\x00", "").strip()
    return DriveSet.objects.filter(Q(name__iexact=words) | Q(slug__iexact=words)).first() if words else None


def item_named(text: str) -> Item | None:
    """The item that a code, a number, a former number or a serial of exactly one item names."""
    label = label_named(text)
    if label is not None:
        return label.item
    words = text.replace("\x00", "").strip()
    if not words:
        return None
    items = Item.objects.select_related("type")
    return items.filter(Exact(Upper("number"), words.upper())).first() or _formerly(words) or _only(fold(words))


def _formerly(number: str) -> Item | None:
    """The item that once had this number."""
    alias = ItemAlias.objects.select_related("item__type").filter(number__iexact=number).first()
    return alias.item if alias else None


def _only(key: str) -> Item | None:
    """The item with this folded serial, if no two makers used it."""
    found = list(Item.objects.select_related("type").filter(serial_key=key)[:2]) if key else []
    return found[0] if len(found) == 1 else None
