"""What is in a place: what belongs there against what is there, by exact serial, and how sure of each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from django.db.models import Q

from inventory.answers import loading
from inventory.answers.oddities import of_things
from inventory.answers.seals import read_interior
from inventory.answers.values import ContentLine, Contents, PlaceRef, Reason, Whereabouts
from inventory.answers.whereabouts import answers
from inventory.models import Compartment, Entry, Holding, Item, Label, Place, Verb
from inventory.unchanged import kept

PAGE = 200


def contents(
    place: Place | Item, at: datetime, *, known_at: datetime | None = None, start: int = 0, limit: int = PAGE
) -> Contents:
    """Everything directly in a place at a moment, and what should be there.

    Expected are the things whose home case this is (present knowledge). A store, room or shelf expects nothing and
    may hold very much: its lines come in pages, in the order in which the things came into the book, each page sorted
    by number; `total` counts them all.
    """
    if isinstance(place, Item):
        place = Place.objects.get(item=place)
    if known_at is not None or place.item_id is None:  # no page shows a store's: proving so much costs what it saves
        return _contents(place, at, known_at, start, limit)
    key = ("contents", place.pk)
    return replace(kept(key, at, lambda: _contents(place, at, None, start, limit)), at=at)


def _contents(place: Place, at: datetime, known_at: datetime | None, start: int, limit: int) -> Contents:
    expected = _expected(place)
    here, total = _here(place, at, known_at, start, limit if place.item_id is None else None)
    asked = sorted({*here, *expected, *([place.item_id] if place.item_id else [])})
    book, containers = loading.book_of(asked, at, known_at=known_at)
    interiors = {container: read_interior(book, container) for container in containers}
    found = answers(book, interiors, asked, at)
    itself = found[place.item_id] if place.item_id else None
    homes = _home_bays(expected, at, known_at)
    lines = [_line(place, found[item], item in expected, homes.get(item, "")) for item in {*here, *expected}]
    lines = [line for line in lines if line.expected or line.here]
    own = interiors.get(place.item_id or 0)
    ref = book.spots[place.pk].ref if place.pk in book.spots else PlaceRef(place.pk, place.kind, _name(place))
    return Contents(
        place=ref,
        at=at,
        lines=tuple(_in_order(place, lines)),
        sentence=_sentence(_name(place), lines, total),
        reasons=(*_reasons(place, lines), *of_things(book, _named(place, lines), interiors)),
        total=sum(line.here for line in lines) if place.item_id else total,
        seal=own.seal.seal if own and own.is_sealed and own.seal else "",
        stands=itself.sentence if itself else "",
        stands_sure=itself.strength if itself else None,
        stands_since=itself.since if itself else None,
    )


def _name(place: Place) -> str:
    return str(place.item) if place.item else place.name


def _expected(place: Place) -> set[int]:
    if place.item_id is None:
        return set()
    return set(Item.objects.in_stock().filter(home_case=place.item_id).values_list("pk", flat=True))


def _here(
    place: Place, at: datetime, known_at: datetime | None, start: int, limit: int | None
) -> tuple[list[int], int]:
    """Things that may be here (loops and disputes are sorted out later), and how many of them."""
    if known_at is None and not _moved_after(at):
        held = Holding.objects.filter(place=place).order_by("item_id")
        stop = None if limit is None else start + limit
        return list(held.values_list("item_id", flat=True)[start:stop]), held.count()
    ever = loading.told(at, known_at).filter(place=place, label__item__isnull=False)
    items = set(ever.values_list("label__item_id", flat=True).distinct())
    newest = _newest_places(items, at, known_at)
    found = sorted(item for item in items if newest.get(item) == place.pk)
    return found[start : None if limit is None else start + limit], len(found)


def _moved_after(at: datetime) -> bool:
    """Has the book anything later than this that Holding follows from?"""
    moving = Q(place__isnull=False) | Q(corrects__isnull=False)
    return Entry.objects.filter(moving, happened_at__gt=at).exists()


def _newest_places(items: set[int], at: datetime, known_at: datetime | None) -> dict[int, int | None]:
    book = loading.placings_of(items, at, known_at)
    return {item: row.place for item, row in book.holders().items()}


def _home_bays(items: set[int], at: datetime, known_at: datetime | None) -> dict[int, str]:
    """The bay each thing has in its set, by the newest `joined`."""
    item_of = dict(Label.objects.filter(item__in=items).order_by().values_list("pk", "item_id"))
    told = loading.live(at, known_at).filter(label__in=item_of, verb=Verb.JOINED, drive_set__isnull=False)
    return {item_of[label]: bay for label, bay in told.order_by("happened_at", "id").values_list("label_id", "bay")}


def _line(place: Place, found: Whereabouts, expected: bool, home_bay: str) -> ContentLine:
    link = found.links[0] if found.links else None
    here = bool(link and link.placing and link.place and link.place.id == place.pk)
    remark = "" if expected and here else (found.sentence if expected else "")
    return ContentLine(
        item=found.item,
        expected=expected,
        here=here,
        bay=link.bay if link and here else "",
        home_bay=home_bay,
        strength=link.strength if link else None,
        link=link,
        remark=remark or (link.remark if link else ""),
    )


def _in_order(place: Place, lines: Sequence[ContentLine]) -> list[ContentLine]:
    """By bay as the container has them, then by number."""
    order: dict[str, int] = {}
    if place.item_id:
        labels = Compartment.objects.filter(container__item_type__items=place.item_id).values_list("label", flat=True)
        order = {label: position for position, label in enumerate(labels)}

    def rank(line: ContentLine) -> tuple[int, str, int]:
        return (order.get(line.bay or line.home_bay, len(order)), line.item.words, line.item.id)

    return sorted(lines, key=rank)


def _sentence(name: str, lines: Sequence[ContentLine], total: int) -> str:
    expected = [line for line in lines if line.expected]
    if not expected:
        return f"{name} holds {total} thing{'' if total == 1 else 's'}." if total else f"{name} is empty."
    here = sum(line.here for line in expected)
    extra = sum(not line.expected for line in lines)
    more = (
        "" if not extra else " 1 more does not belong in it." if extra == 1 else f" {extra} more do not belong in it."
    )
    if here == len(expected):
        return f"{name} holds all {here} that belong in it.{more}"
    return f"{name} holds {here} of the {len(expected)} that belong in it.{more}"


def _reasons(place: Place, lines: Sequence[ContentLine]) -> list[Reason]:
    name, found = _name(place), []
    for line in lines:
        entries = line.link.cites if line.link else ()
        if line.expected and not line.here:
            found.append(Reason("elsewhere", line.remark, f"Put it into {name}.", entries, (line.item.id,)))
        elif place.item_id and not line.expected:
            sentence = f"{line.item.words} is in {name} and does not belong there."
            way = "Take it out, or say why it travels here."
            found.append(Reason("extra", sentence, way, entries, (line.item.id,)))
    return found


def _named(place: Place, lines: Sequence[ContentLine]) -> set[int]:
    return {line.item.id for line in lines} | {one for one in [place.item_id] if one}
