"""From the database to a Book: few queries, whatever the number of items asked for.

What is loaded: everything about the items asked for and the containers round them; of what else was ever in those
containers, all placings of containers and of things heard of since the moment that still matters (the newest
sealing, or a vehicle's newest placing, before the oldest sight that a link rests on). "Everything" and "all" are cut
down to the newest entries where those say the same (latest.py): for answers of one moment by present knowledge.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from uuid import UUID

from inventory.answers import latest
from inventory.answers.book import Book, Doubt, Row, Spot, Thing, WorkedOut, bay_of, stories, walk
from inventory.answers.clock_doubts import doubts_of
from inventory.answers.things import things_of, unnamed
from inventory.answers.told import (
    EVER_IN,
    EVERYTHING,
    INSIDES,
    OF_LABELS,
    PLACED_OR_SINCE,
    PLACINGS,
    SPOTS,
    ToldOf,
    heard_of,
    newest_few,
    put_in,
    since_before,
)
from inventory.answers.told import live as live
from inventory.answers.told import told as told
from inventory.answers.values import PlaceRef
from inventory.models import Item, Place, Verb


def book_of(
    items: Iterable[int],
    at: datetime,
    *,
    planned: Mapping[int, Item | Place] | None = None,
    known_at: datetime | None = None,
) -> tuple[Book, list[int]]:
    """A book that answers where these items are, and the containers whose interior it can tell."""
    return books_of({at: items}, planned=planned, known_at=known_at)[at]


def books_of(
    asked: Mapping[datetime, Iterable[int]],
    *,
    planned: Mapping[int, Item | Place] | None = None,
    known_at: datetime | None = None,
) -> dict[datetime, tuple[Book, list[int]]]:
    """The same for several moments, each with its own items; read once, however many moments."""
    plan = {item: _place_id(where) for item, where in (planned or {}).items()}
    loader = _Loader(max(asked), known_at, plan)
    loader.brief = known_at is None and len(asked) == 1
    loader.upward({moment: set(items) for moment, items in asked.items()})
    loader.add_doubts()
    since = {moment: loader.since(moment) for moment in asked}
    loader.inward(_earliest(since.values()), loader.rivals())
    return {moment: (loader.book(moment), list(containers)) for moment, containers in since.items()}


def _earliest(starts: Iterable[Mapping[int, datetime]]) -> dict[int, datetime]:
    found: dict[int, datetime] = {}
    for container, moment in (pair for one in starts for pair in one.items()):
        found[container] = min(moment, found.get(container, moment))
    return found


def placings_of(items: Iterable[int], at: datetime, known_at: datetime | None = None) -> Book:
    """A book of nothing but these items' own placings."""
    loader = _Loader(at, known_at, {})
    loader.placings(set(items))
    return loader.book()


def bays_of(items: Iterable[int], at: datetime) -> Book:
    """These items' placings, and those of whoever was placed in a bay after them."""
    loader = _Loader(at, None, {})
    loader.asked = {at: set(items)}
    loader.placings(loader.asked[at])
    loader.placings(loader.rivals().keys() - loader.asked[at])
    return loader.book()


def sealed_insides(cases: Iterable[int], at: datetime) -> tuple[Book, list[int]]:
    """A book that tells whether the newest seal of each of these still holds, and which of them ever had one.

    Its things have no codes and no bays: no seal turns on those.
    """
    loader = _Loader(at, None, {}, look_up=unnamed)
    loader.add_rows(set(cases), EVERYTHING)
    newest = {case: [row.at for row in rows if row.verb == Verb.SEALED][-1:] for case, rows in loader.rows.items()}
    since = {case: sealing[0] for case, sealing in newest.items() if sealing}
    loader.inward(since, {})
    return loader.book(), list(since)


def _place_id(where: Item | Place) -> int:
    return where.pk if isinstance(where, Place) else Place.objects.get(item=where).pk


@dataclass
class _Loader:
    at: datetime
    known_at: datetime | None
    planned: dict[int, int]
    things: dict[int, Thing] = field(default_factory=dict)
    spots: dict[int, Spot] = field(default_factory=dict)
    rows: dict[int, tuple[Row, ...]] = field(default_factory=dict)
    asked: dict[datetime, set[int]] = field(default_factory=dict)
    doubts: dict[UUID, Doubt] = field(default_factory=dict)
    look_up: Callable[[Iterable[int]], dict[int, Thing]] = things_of
    worked_out: WorkedOut = field(default_factory=WorkedOut)
    brief: bool = False  # read the newest entries only, where they do
    cuts: dict[int, datetime] = field(default_factory=dict)  # of whom not everything was read, and since when it was

    def book(self, moment: datetime | None = None) -> Book:
        """What was brought so far, as it stood at a moment."""
        book = Book(self.things, self.spots, self.rows, self.planned, self.doubts, self.worked_out)
        return book if moment in (None, self.at) else book.until(moment)

    def upward(self, items: dict[datetime, set[int]]) -> None:
        """The items, and the containers round them at their moments, with everything told of them."""
        todo = items
        self.asked = {moment: set() for moment in items}
        while any(todo.values()):
            for moment, wanted in todo.items():
                self.asked[moment] |= wanted
            self.add_told(set().union(*todo.values()) - self.rows.keys())
            todo = {moment: self._around(moment, wanted) for moment, wanted in todo.items() if wanted}

    def _around(self, moment: datetime, items: set[int]) -> set[int]:
        book = self.book(moment)
        self._add_homes(book, items)
        holders = book.holders()
        return {one for item in items for one in walk(book, holders, item, self.planned).path} - self.asked[moment]

    def add_told(self, items: set[int]) -> None:
        """Everything told of these, or as much of it as gives the same answers: few entries at first, then more."""
        for most in latest.STEPS if self.brief else ():
            items = self._add_newest(items, most)
        self._add_all(items)

    def _add_newest(self, items: set[int], most: int) -> set[int]:
        """So many of the newest entries of each code of these; returns the things for which they do not do."""
        if not items:
            return items
        for item in items:
            self.cuts.pop(item, None)
        cuts, codes = latest.cuts_of(items, self.at, most)
        self.add_rows(items, newest_few(most) if cuts else EVERYTHING, cuts=cuts)
        if not cuts:
            return set()
        ever = latest.ever_put(codes)
        self._add_spots({put.place for told in ever.values() for put in told})
        book = self.book()
        return {item for item in cuts if not latest.suffices(book, item, ever.get(item, ()))}

    def _add_all(self, items: Collection[int]) -> None:
        """Their newest entries do not do."""
        self.add_rows(set(items), EVERYTHING)
        for item in items:
            self.cuts.pop(item, None)

    def placings(self, items: set[int]) -> None:
        self.add_rows(items, PLACINGS)

    def inward(self, since: Mapping[int, datetime], rivals: Mapping[int, datetime]) -> None:
        """What else was in the containers, as far as a seal or a bay may hang on it."""
        inside = self._insiders(since)
        starts = [(start, items) for start, items in inside.items() if items]
        heard = self._heard(starts) | rivals.keys()
        known = {item for items in inside.values() for item in items}
        self._add_things(known | heard)
        wanted = heard | {item for item in known if self.things[item].holds}
        first = min([*inside, *rivals.values()], default=self.at)
        book = self.book()
        self._add_all({item for item in wanted & self.cuts.keys() if not self._goes_back(book, item, first)})
        self._add_since(wanted - self.rows.keys(), first)

    def _goes_back(self, book: Book, item: int, moment: datetime) -> bool:
        return self.cuts[item] <= moment and latest.reaches(book, item, moment)

    def _add_since(self, items: set[int], first: datetime) -> None:
        """What was told of these since a moment, and where they were before it."""
        cuts = latest.cuts_before(items, first) if self.brief else {}
        self.add_rows(items, since_before(latest.BEFORE) if cuts else PLACED_OR_SINCE, first, cuts)
        book = self.book()
        self.add_rows({item for item in cuts if not latest.reaches(book, item, first)}, PLACED_OR_SINCE, first)

    def add_rows(
        self, items: set[int], told_of: ToldOf, moment: datetime | None = None,
        cuts: Mapping[int, datetime] | None = None,
    ) -> None:  # fmt: skip
        """What was told of these, since their cuts, with themselves and the places that it names."""
        if not items:
            return
        found = defaultdict(list)
        for values in told_of(items, self.at, self.known_at, moment or self.at):
            row = Row._make(values)
            if not cuts or row.item not in cuts or row.at >= cuts[row.item]:
                found[row.item].append(row)
        self.rows.update((item, tuple(found[item])) for item in items)
        self.cuts |= cuts or {}
        self._add_spots({row.place for rows in found.values() for row in rows if row.place is not None}, items)

    def _add_spots(self, places: set[int], things: Collection[int] = ()) -> None:
        """These places, with the containers some are the inside of, and these things beside."""
        new = places - self.spots.keys()
        found = SPOTS(places=new)
        self._add_things({item for _pk, _kind, _name, item, *_more in found if item} | set(things))
        for pk, kind, name, item, parent, purpose in found:
            called = self.things[item].ref.words if item else name
            self.spots[pk] = Spot(PlaceRef(pk, kind, called, item), parent or "", purpose)

    def _add_things(self, items: set[int]) -> None:
        new = items - self.things.keys()
        if new:
            self.things.update(self.look_up(new))

    def _add_homes(self, book: Book, items: set[int]) -> None:
        """Where a thing without any placing should be: the plan's place, else its home case."""
        lost = {item for item in items if not book.placings(item)}
        homes = {item: home for item in lost - self.planned.keys() if (home := self.things[item].home_case)}
        if homes:
            insides: dict[int, int] = dict(INSIDES(items=homes.values()))
            self.planned |= {item: insides[home] for item, home in homes.items() if home in insides}
        self._add_spots({self.planned[item] for item in items if item in self.planned})

    def since(self, moment: datetime) -> dict[int, datetime]:
        """Per container of the chains at a moment: from when on its interior matters."""
        book = self.book(moment)
        sights = self._sights(book, moment)
        starts = {container: _start(book, container, seen) for container, seen in sights.items()}
        for go_back in (self._add_before, self._add_all):
            cut = starts.keys() & self.cuts.keys()
            short = {one: starts[one] for one in cut if not latest.shows_interior(book, one, sights[one], starts[one])}
            go_back(short)
            book = self.book(moment)
            starts |= {container: _start(book, container, sights[container]) for container in short}
        return {container: start for container, start in starts.items() if start is not None}

    def _add_before(self, starts: Mapping[int, datetime | None]) -> None:
        """A few entries from before these moments; everything of those of which nothing older is left."""
        first = min((start or self.at for start in starts.values()), default=self.at)
        cuts = latest.cuts_before(starts.keys(), first)
        self._add_all(starts.keys() - cuts.keys())
        older = {one: cut for one, cut in cuts.items() if cut < self.cuts[one]}
        self.add_rows(set(older), since_before(latest.BEFORE), first, older)

    def _sights(self, book: Book, moment: datetime) -> dict[int, list[Row]]:
        """By container of the chains: the newest sights of the things in it."""
        sights: dict[int, list[Row]] = defaultdict(list)
        for item in self.asked[moment]:
            seen, stay = book.sight(item), book.stay(item)
            holder = self.spots[stay[-1].place].item if stay and stay[-1].place else None
            if holder is not None and holder in self.rows:
                sights[holder] += [seen] if seen else []
        return sights

    def _insiders(self, since: Mapping[int, datetime]) -> dict[datetime, set[int]]:
        """Items ever placed in the containers at any depth, by the moment that matters; a deck is read one deep."""
        start = dict(since)
        level = set(since)
        found: dict[int, datetime] = {}
        while level:
            insides = {inside: one for one in level if (inside := self.things[one].inside) is not None}
            level = set()
            for place, item in self._ever_in(insides):
                container = insides[place]
                earliest = min(start[container], found.get(item, start[container]))
                if found.get(item) == earliest:
                    continue
                found[item] = earliest
                if not self._is_flat(container):
                    level.add(item)
                    start[item] = min(earliest, start.get(item, earliest))
            self._add_things(level)
            level = {item for item in level if self.things[item].holds}
        grouped: dict[datetime, set[int]] = defaultdict(set)
        for item, moment in found.items():
            grouped[moment].add(item)
        return grouped

    @staticmethod
    def _ever_in(places: Collection[int]) -> set[tuple[int, int]]:
        """Which items were ever placed in these places, by place: read off one index, however often they were."""
        found = [(place, label) for place, label in EVER_IN(places=places) if place and label]
        of_label: dict[int, int] = dict(OF_LABELS(labels={label for _, label in found}))
        return {(place, of_label[label]) for place, label in found if label in of_label}

    def _is_flat(self, container: int) -> bool:
        """An unsealed vehicle is opened only by what is taken off its deck itself."""
        rows = self.rows.get(container, ())
        return self.things[container].kind == "vehicle" and not any(row.verb == Verb.SEALED for row in rows)

    def _heard(self, starts: list[tuple[datetime, set[int]]]) -> set[int]:
        """Of these, the items that anything was told of since."""
        since = {item: start for start, items in starts for item in items}
        heard = heard_of(since, self.at, self.known_at)
        return {item for item, newest in heard if newest is not None and newest >= since[item]}

    def rivals(self) -> dict[int, datetime]:
        """Items that a later placing put into a bay that an asked item was placed in, and since when that matters."""
        books = {moment: self.book(moment) for moment in self.asked}
        named = [
            bay.named for at, book in books.items() for item in self.asked[at] if (bay := bay_of(book, item)).named
        ]
        if not named:
            return {}
        first = min(row.at for row in named)
        places, bays = {row.place for row in named}, {row.bay for row in named}
        found = put_in(places, bays, first, self.at, self.known_at)
        return dict.fromkeys((item for (item,) in found), first)

    def add_doubts(self) -> None:
        rows = {row for moment in self.asked for row in self._timed(moment)}
        self.doubts = doubts_of({row.device for row in rows if row.device}, self.known_at)

    def _timed(self, moment: datetime) -> Iterator[Row]:
        """The rows whose times a link at this moment may rest on."""
        book = self.book(moment)
        for item in self.asked[moment]:
            yield from stories(book, item)[-2:] + book.stay(item)[-1:]
            if seen := book.sight(item):
                yield seen


def _start(book: Book, container: int, sights: list[Row]) -> datetime | None:
    """The newest sealing before the oldest sight; of a vehicle also its own newest placing before that."""
    own = book.rows[container]
    sealings = [row for row in own if row.verb == Verb.SEALED]
    if not sights:
        return sealings[-1].at if sealings else None
    oldest = min(row.key for row in sights)
    marks = [[row.at for row in sealings if row.key <= oldest][-1:]]
    if book.things[container].kind == "vehicle":
        marks.append([row.at for row in own if book.is_placing(row) and row.key <= oldest][-1:])
    return min([oldest[0], *(at for mark in marks for at in mark)])
