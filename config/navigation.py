"""The pages on top of every page, by role. Which of them exist is known here and nowhere else."""

from __future__ import annotations

from django.http import HttpRequest
from django.urls import NoReverseMatch, reverse

from inventory.access import ANYONE, HOUSE, KIT, role_of

PAGES = (
    ("Today", "today", ANYONE),
    ("Shows", "shows", HOUSE),
    ("Systems", "systems", HOUSE),
    ("Drive sets", "drive-sets", ANYONE),
    ("Cases", "cases", HOUSE),
    ("Things", "things", HOUSE),
    ("Promise", "promise", HOUSE),
    ("Rules", "rules", HOUSE),
    ("Ledger", "ledger", HOUSE),
    ("Import", "import", KIT),
)


def _address(name: str) -> str:
    try:
        return reverse(name)
    except NoReverseMatch:
        return ""


def navigation(request: HttpRequest) -> dict[str, object]:
    """For every template: the pages that this person's role opens."""
    role = role_of(request.user) if hasattr(request, "user") else None
    pages = [
        {"words": words, "address": address, "here": request.path == address}
        for words, name, roles in PAGES
        if role in roles and (address := _address(name))
    ]
    return {"book_pages": pages}
