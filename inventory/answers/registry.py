"""The answers that can be asked by name: one entry serves the command line and the API alike.

An app adds its own in its AppConfig.ready():  registry.add("readiness", find=system_named, ask=readiness)
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from inventory.models import Item, Place
from inventory.naming import item_named

Find = Callable[[str], Any]
Ask = Callable[[Any, datetime], Any]
References = Callable[[Any], set[str]]


ONE = "code, number or serial"


@dataclass(frozen=True, slots=True)
class Answer:
    """`find` turns what was typed into a subject or None; `ask` answers about it at a moment.

    `references` tells the shows a subject belongs to, for clients; without it no client sees this answer.
    `one` says what may be typed, for the sentence when nothing was found.
    """

    name: str
    find: Find
    ask: Ask
    one: str = ONE
    references: References | None = None


_answers: dict[str, Answer] = {}


def add(name: str, *, find: Find, ask: Ask, one: str = ONE, **more: Any) -> None:
    """Make an answer askable by name; the last one added under a name stands."""
    _answers[name] = Answer(name, find, ask, one, **more)


def named(name: str) -> Answer | None:
    return _answers.get(name)


def names() -> list[str]:
    return sorted(_answers)


def place_named(text: str) -> Place | None:
    """The place inside a named case or vehicle, else the place that is called so."""
    item = item_named(text)
    if item is not None:
        return Place.objects.filter(item=item).select_related("item").first()
    return Place.objects.filter(name__iexact=text.strip(), item=None).first()


def references_of(item: Item) -> set[str]:
    """The shows that entries about an item name."""
    from inventory.answers.loading import live

    named_shows = live().filter(label__item=item).exclude(reference="")
    return set(named_shows.values_list("reference", flat=True).distinct())


def add_own() -> None:
    """The answers of this app."""
    from inventory.answers.contents import contents
    from inventory.answers.history import history
    from inventory.answers.likely_loading import where_to_look
    from inventory.answers.show_set import set_of_show, show_subject
    from inventory.answers.wiping import ask_wiping, wiping_subject

    add("contents", find=place_named, ask=contents, one="case, vehicle or place")
    add("history", find=item_named, ask=history)
    add("where_to_look", find=item_named, ask=where_to_look)
    # No client asks this: the answer about a drive tells of other clients' shows too.
    add("wipe_answer", find=wiping_subject, ask=ask_wiping, one="drive, drive set or show")
    add("set_of_show", find=show_subject, ask=set_of_show, one="show")
