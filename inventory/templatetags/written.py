"""Pieces of a page written once for all that they can say: rows of long tables, most of which stay as they were."""

from __future__ import annotations

from collections.abc import Hashable
from functools import lru_cache

from django import template
from django.template.loader import get_template
from django.utils.safestring import SafeString, mark_safe

register = template.Library()
MOST = 3000  # rows kept as text at once, each with what it says: some two kB


@register.simple_tag
def written(name: str, **says: Hashable) -> SafeString:
    """As `include NAME with … only`, for what says all in frozen rows of plain words: equal rows are written alike.

    The template uses what is passed and nothing else: no request, no clock, nothing that is read when asked for.
    """
    return _written(name, tuple(says.items()))


@lru_cache(maxsize=MOST)
def _written(name: str, says: tuple[tuple[str, Hashable], ...]) -> SafeString:
    return mark_safe(get_template(name).render(dict(says)))


def forget() -> None:
    """Let go of every row."""
    _written.cache_clear()
