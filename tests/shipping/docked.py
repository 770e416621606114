"""How the tests of docks read a page and a label."""

from __future__ import annotations

from datetime import timedelta

MINUTE = timedelta(minutes=1)


def code(item) -> str:
    return item.labels.get().code


def text(response) -> str:
    return " ".join(response.content.decode().split())
