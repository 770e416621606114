"""The pages on top of every page, by role. Which of them exist is known here and nowhere else."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpRequest
from django.urls import reverse

from inventory.access import ANYONE, CREW, HOUSE, KIT, role_of

# The everyday ones stand in the line; the others behind "More".
EVERYDAY = (
    ("Today", "today", ANYONE),
    ("Shows", "shows", ANYONE),
    ("Systems", "systems", HOUSE),
    ("Drive sets", "drive-sets", ANYONE),
    ("Cases", "cases", HOUSE),
    ("Things", "things", HOUSE),
)
MORE = (
    ("Load", "crew", CREW),
    ("Check in or out", "desk", CREW),
    ("Wipe bench", "bench", HOUSE),
    ("Who holds drives", "drive-hands", HOUSE),
    ("If a vehicle burns", "if-it-burns", HOUSE),
    ("Promise", "promise", HOUSE),
    ("Places", "places", HOUSE),
    ("People", "people", HOUSE),
    ("Rules", "rules", HOUSE),
    ("Papers", "papers", HOUSE),
    ("Ledger", "ledger", HOUSE),
    ("Kinds of thing", "item-types", HOUSE),
    ("Import", "import", KIT),
    ("Work list", "work-list", KIT),
)
Page = dict[str, object]


def _open_to(role: str | None, pages: tuple[tuple[str, str, tuple[str, ...]], ...], path: str) -> list[Page]:
    found = [(words, reverse(name)) for words, name, roles in pages if role in roles]
    return [{"words": words, "address": address, "here": path == address} for words, address in found]


def navigation(request: HttpRequest) -> dict[str, object]:
    """For every template: the pages that this person's role opens, and whether they came by the plain door."""
    role = role_of(request.user) if hasattr(request, "user") else None
    more = _open_to(role, MORE, request.path)
    return {
        "book_pages": _open_to(role, EVERYDAY, request.path),
        "more_pages": more,
        "plain_door": settings.LAN and not request.is_secure(),
        "in_more": any(page["here"] for page in more),
    }
