"""How sure the book is, as papers print it: where a thing was seen and when, who has a case, what is on a drive."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property

from inventory.answers.starts import YES
from inventory.answers.values import Link, Whereabouts
from inventory.answers.whereabouts import whereabouts_of, witness
from inventory.answers.wiping import WipeAnswer, wipe_answers
from inventory.models import Item, Place
from inventory.papers import moment

HOLDS, BLANK, NOT_KNOWN = "HOLDS CONTENT", "BLANK", "NOT KNOWN"


@dataclass(frozen=True, slots=True)
class Hands:
    """In whose hands something is, and the number to ring."""

    name: str = ""
    phone: str = ""


class Evidence:
    """The answers about some things at one moment, each asked once for all of them and only if a paper wants it."""

    def __init__(self, items: Mapping[int, Item], at: datetime) -> None:
        self._items, self._at = items, at

    @cached_property
    def _wheres(self) -> dict[int, Whereabouts]:
        return whereabouts_of(sorted(self._items), self._at)

    def sure(self, item: Item) -> str:
        """'sealed in, 14 Mar 2026 12:00, Ida Penrake': the strength of its own place, not of the vehicle's."""
        where = self._wheres.get(item.id)
        return sure_words(where.links[0]) if where and where.links else "place not known"

    @cached_property
    def _people(self) -> dict[int, Hands]:
        places = {link.place.id for where in self._wheres.values() for link in where.links if link.place}
        held = Place.objects.filter(pk__in=places, person__isnull=False).select_related("person")
        return {place.pk: Hands(place.person.name, place.person.phone) for place in held}

    def hands(self, item: Item) -> Hands:
        """The person who has it, if somebody does."""
        where = self._wheres.get(item.id)
        places = [link.place.id for link in where.links if link.place] if where else []
        return next((self._people[place] for place in places if place in self._people), Hands())

    @cached_property
    def _wipes(self) -> dict[int, WipeAnswer]:
        drives = [item for item in self._items.values() if item.type.kind == "drive"]
        return wipe_answers(drives, self._at) if drives else {}

    def wipe(self, drive: Item) -> WipeAnswer:
        return self._wipes[drive.id]


def sure_words(link: Link) -> str:
    """The strength of one place, when that was seen and by whom."""
    seen = witness(link)
    parts = [link.strength.value, *([moment(seen.at), seen.by] if seen else [])]
    return ", ".join(parts)


def content_word(answer: WipeAnswer) -> str:
    """What a card says is on a drive. Only YES with no piece left is blank; whatever else is open is not known."""
    if answer.content:
        return HOLDS
    return BLANK if answer.answer == YES else NOT_KNOWN


def box_word(answers: Iterable[WipeAnswer]) -> str:
    """The worst of the drives in a box; an empty box says nothing."""
    words = [content_word(answer) for answer in answers]
    return next((word for word in (HOLDS, NOT_KNOWN, BLANK) if word in words), "")
