"""What somebody means who types a code, a number, a tail of a serial, or a name; forgiving what people misread.

Candidate items come from the index of parts (candidates.py); whatever else is few is read whole. One pure ranking
then orders them. It is written for a box on every page, not for long texts.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Collection, Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from django.db.models import F
from django.utils import timezone
from rapidfuzz.distance import OSA
from rapidfuzz.fuzz import WRatio

from inventory.answers.candidates import KEPT, items_meant
from inventory.answers.loading import live
from inventory.answers.worded import by_words
from inventory.folding import fold_confusable
from inventory.models import DriveSet, Entry, Item, Person, Place, PlaceKind, System, Verb
from inventory.naming import item_named

MOST = 12
GOOD, SURE = 60.0, 90.0
SEALED = 96.0  # a seal's number in full: as good as a serial's tail, less than a code
ALIKE = 0.85  # what a likeness of words counts, beside a code or serial that fits


Meant = tuple[str, int | str]  # of which kind, and its key


@dataclass(frozen=True, slots=True)
class Named:
    """One thing a name can lead to. `kind` is item, drive set, system, place, person or what an app adds."""

    kind: str
    key: int | str
    words: str
    texts: tuple[str, ...]
    detail: str = ""
    handled: float = 0.0  # when it was last put somewhere, as a timestamp; of two that fit alike the newer is meant
    why: str = ""  # what ties it to the text, where its own words do not show that

    @property
    def meant(self) -> Meant:
        return self.kind, self.key


@dataclass(frozen=True, slots=True)
class Near:
    """Why one of several things that fit alike is likelier meant: the higher rank first, and why in words."""

    rank: int
    words: str


@dataclass(frozen=True, slots=True)
class Hit:
    named: Named
    score: float
    near: Near | None = None


Allowed = Callable[[Collection[Named]], Container[Meant]]
Source = Callable[[], Iterable[Named]]
NearOf = Callable[[Collection[int]], Mapping[int, Near]]
sources: list[Source] = []
# What an app knows of things that are wanted now: (items, at, the person who asks) to why each is near.
nearness: list[Callable[[Collection[int], datetime, Person | None], Mapping[int, Near]]] = []


def near_to(person: Person | None, at: datetime) -> NearOf:
    """Which things are near to a person at a moment, by all that the apps know; the first app that says counts."""

    def near(items: Collection[int]) -> Mapping[int, Near]:
        found: dict[int, Near] = {}
        for told in nearness:
            found = {**told(items, at, person), **found}
        return found

    return near


def search(text: str, most: int = MOST, allowed: Allowed | None = None, near: NearOf | None = None) -> tuple[Hit, ...]:
    """The likeliest meanings, best first; nothing for an empty text. `allowed` narrows what a person may see.

    Of things that fit alike those that are `near` come first, then those handled last.
    """
    text = text.replace("\x00", "").strip()  # PostgreSQL keeps no such character, so nothing can hold it
    if not text:
        return ()
    best: dict[Meant, Hit] = {}  # a thing may be meant in two ways, by its seal and by its name
    for hit in sorted(_hits(text), key=lambda hit: -hit.score):
        if hit.score >= GOOD:
            best.setdefault(hit.named.meant, hit)
    own = best if allowed is None else allowed([hit.named for hit in best.values()])
    found = [hit for meant, hit in best.items() if meant in own]
    return tuple(sorted(_with_nearness(found, near), key=_likeliest)[:most])


def _likeliest(hit: Hit) -> tuple[float, int, float, str]:
    return -hit.score, -hit.near.rank if hit.near else 0, -hit.named.handled, hit.named.words


def _with_nearness(hits: Sequence[Hit], near: NearOf | None) -> Sequence[Hit]:
    """Asked of things only that fit as well as another: elsewhere nothing depends on it."""
    of_items = [hit for hit in hits if hit.named.kind == "item"]
    shared = Counter(hit.score for hit in of_items)
    alike = [int(hit.named.key) for hit in of_items if shared[hit.score] > 1]
    if near is None or not alike:
        return hits
    known = near(alike)
    return [replace(hit, near=known.get(int(hit.named.key))) if hit.named.kind == "item" else hit for hit in hits]


def is_sure(hits: tuple[Hit, ...]) -> bool:
    """Is the first meant, clearly enough to answer at once?"""
    if not hits:
        return False
    return hits[0].score >= SURE and (len(hits) == 1 or hits[0].score - hits[1].score >= 3)


def _hits(text: str) -> Iterator[Hit]:
    exact = item_named(text) or item_named(_spoken_number(text))
    if exact is not None:
        yield Hit(_item(exact), 100.0)
    for named in _sealed(text):
        yield Hit(named, SEALED)
    worded = by_words(text)
    for item in _candidates(text, list(worded)[:KEPT]):
        named = _item(item)
        yield Hit(named, max(score(text, named.texts), worded.get(item.pk, 0.0)))
    for source in (_sets, _systems, _places, _people, *sources):
        for named in source():
            yield Hit(named, score(text, named.texts))


def _sealed(text: str) -> Iterator[Named]:
    """The few cases that a seal of this number was put on; of two, the last one is meant."""
    number = re.sub(r"^seal\s+", "", text, flags=re.IGNORECASE)
    told = live().filter(verb=Verb.SEALED, seal__in=(number, number.upper())).exclude(seal="")
    newest: dict[Item, Entry] = {}
    for entry in told.select_related("label__item__type").order_by("-happened_at", "-id")[:KEPT]:
        if entry.label and entry.label.item:
            newest.setdefault(entry.label.item, entry)
    for item, entry in newest.items():
        when = f"{timezone.localtime(entry.happened_at):%-d %b %Y at %H:%M}"
        why = f"Seal {entry.seal} was put on {item} on {when}."
        yield replace(_item(item), why=why, handled=entry.happened_at.timestamp())


def _spoken_number(text: str) -> str:
    """HER-04 of "her 4": three letters and a number, as people say and write them in haste."""
    match = re.fullmatch(r"([A-Z]{3})[\s-]*([0-9OIL]{1,2})", text.upper())
    if match is None:
        return ""
    return f"{match[1]}-{int(fold_confusable(match[2])):02}"


def score(text: str, texts: Iterable[str]) -> float:
    """How well a typed text fits the best of a thing's texts, 0 to 100."""
    return max((fits(text, other) for other in texts if other), default=0.0)


def fits(text: str, other: str) -> float:
    """How well a typed text fits one other, 0 to 100."""
    typed, held = fold_confusable(text), fold_confusable(other)
    if typed == held:
        return 99.0 if text.casefold() == other.casefold() else 97.0
    if len(typed) >= 3 and held.endswith(typed):
        return 94.0 - min(10, len(held) - len(typed)) * 0.2
    if len(typed) >= 3 and typed in held:
        return 84.0 - min(20, len(held) - len(typed)) * 0.2
    # One slip in a code or serial: a change, a loss, an extra, or two neighbours swapped.
    if len(typed) >= 4 and abs(len(typed) - len(held)) <= 1:
        slips = OSA.distance(typed, held, score_cutoff=2)
        if slips <= 2:
            return {1: 91.0, 2: 70.0}[slips]
    return WRatio(text.casefold(), other.casefold(), score_cutoff=GOOD / ALIKE) * ALIKE


def _candidates(text: str, worded: Iterable[int]) -> Iterable[Item]:
    """Items whose code, number, serial or name may be meant, and those that are meant by words; a bounded number."""
    ids = {*items_meant(text), *worded}
    items = Item.objects.filter(pk__in=ids).annotate(handled=F("holding__entry__happened_at"))
    return items.select_related("type", "home_set").prefetch_related("labels", "aliases")


def _item(item: Item) -> Named:
    texts = (item.number or "", item.serial, item.name, str(item.type), item.called)
    codes = tuple(label.code for label in item.labels.all())
    aliases = tuple(alias.number for alias in item.aliases.all())
    handled: datetime | None = getattr(item, "handled", None)
    when = handled.timestamp() if handled else 0.0
    return Named("item", item.pk, str(item), (*texts, *codes, *aliases), str(item.type), when)


def _sets() -> Iterator[Named]:
    for slug, name in DriveSet.objects.values_list("slug", "name"):
        yield Named("drive set", slug, name, (name,), "drive set")


def _systems() -> Iterator[Named]:
    for slug, name in System.objects.values_list("slug", "name"):
        yield Named("system", slug, name, (name,), "system")


def _places() -> Iterator[Named]:
    places = Place.objects.filter(item=None, person=None).exclude(kind=PlaceKind.ROAD)
    for pk, name, kind in places.values_list("pk", "name", "kind"):
        yield Named("place", pk, name, (name,), PlaceKind(kind).label)


def _people() -> Iterator[Named]:
    for pk, name, firm in Person.objects.values_list("pk", "name", "organisation__name"):
        yield Named("person", pk, name, (name, *name.split()), firm or "")
