"""What templates link to is there: `{% url … as x %}` says nothing where a name or its arguments fit no address."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.conf import settings
from django.urls import get_resolver
from django.utils.text import smart_split

LINK = re.compile(r"{%\s*(?:url|address)\s+(.+?)\s*%}")
PLACES = sorted((Path(settings.BASE_DIR) / "templates").rglob("*.html"))


def links(text: str) -> Iterator[tuple[str, int]]:
    """The name and the number of arguments of each link whose name is written out."""
    for tag in LINK.findall(text):
        name, *bits = smart_split(tag)
        if name[0] in "'\"":
            yield name.strip("'\""), len(bits[: bits.index("as")] if "as" in bits else bits)


def fits(name: str, arguments: int) -> bool:
    known = get_resolver().reverse_dict.getlist(name)
    return any(len(parameters) == arguments for ways, *_ in known for _, parameters in ways)


def test_a_link_that_fits_no_address_is_seen():
    found = list(links("{% url 'show' as here %} {% url 'show' show.code %} {% url 'nowhere' %}{% url name %}"))
    assert found == [("show", 0), ("show", 1), ("nowhere", 0)]
    assert [fits(*one) for one in found] == [False, True, False]


@pytest.mark.parametrize("template", PLACES, ids=lambda path: path.stem)
def test_every_link_of_a_template_fits_an_address(template):
    assert [one for one in links(template.read_text()) if not fits(*one)] == []
