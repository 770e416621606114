"""Where is it, how sure, since when: the chain from a thing outward to a place that does not move."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from inventory.answers import loading
from inventory.answers.book import Book, Row, dispute, walk
from inventory.answers.seals import read_interior
from inventory.answers.strength import Interiors, Links
from inventory.answers.values import Evidence, Link, Reason, Strength, Whereabouts
from inventory.answers.words import place_words, witness_words
from inventory.models import Item, Place
from inventory.unchanged import kept

Planned = Mapping[int, int]
KEPT = 500  # answers for more things than this are too large to keep


def whereabouts(
    item: Item, at: datetime, planned: Item | Place | None = None, known_at: datetime | None = None
) -> Whereabouts:
    """Where the item is, or was, at a moment.

    `planned` is the case or place a plan gives it, used only while nobody has placed it (else its home case).
    `known_at` counts only what had been received by then.
    """
    plan = {} if planned is None else {item.pk: planned}
    return whereabouts_of([item.pk], at, plan, known_at)[item.pk]


def whereabouts_of(
    items: Sequence[int],
    at: datetime,
    planned: Mapping[int, Item | Place] | None = None,
    known_at: datetime | None = None,
) -> dict[int, Whereabouts]:
    """The same for many items by id, with a number of queries that does not grow with them."""
    if planned or known_at or len(items) > KEPT:
        return _whereabouts_of(items, at, planned, known_at)
    found = kept(("whereabouts", *items), at, lambda: _whereabouts_of(items, at, None, None))
    return {item: replace(where, at=at) for item, where in found.items()}


def _whereabouts_of(
    items: Sequence[int], at: datetime, planned: Mapping[int, Item | Place] | None, known_at: datetime | None
) -> dict[int, Whereabouts]:
    book, cut = loading.book_of(items, at, planned=planned, known_at=known_at)
    interiors = {container: read_interior(book, container) for container in cut}
    return answers(book, interiors, items, at)


def whereabouts_then(asked: Mapping[datetime, Sequence[int]]) -> dict[datetime, dict[int, Whereabouts]]:
    """Where things were at several moments, each with its own things: read as if they were one."""
    books = loading.books_of(asked) if asked else {}
    return {
        moment: answers(book, {one: read_interior(book, one) for one in cut}, asked[moment], moment)
        for moment, (book, cut) in books.items()
    }


@dataclass(frozen=True, slots=True)
class ThenAndNow:
    """How sure each thing was, at its own moment, to be in what was right around it; and where each is now.

    Where they are is told without reasons: those are asked of single things.
    """

    then: dict[int, Strength]
    now: dict[int, Whereabouts]


def then_and_now(moments: Mapping[datetime, Sequence[int]], items: Sequence[int], at: datetime) -> ThenAndNow:
    """Of many things at once, which is read as if they were one."""
    then: dict[int, Strength] = {}
    now: dict[int, Whereabouts] = {}
    for moment, (book, cut) in loading.books_of({**moments, at: items}).items():
        holders, known = book.holders(), Links(book, {one: read_interior(book, one) for one in cut})
        if moment == at:
            now = {item: _answer(book, holders, known, item, at, with_reasons=False) for item in items}
        for item in moments.get(moment, ()):
            links = chain(book, holders, known, item)
            then[item] = links[0].strength if links else Strength.UNKNOWN
    return ThenAndNow(then, now)


def answers(book: Book, interiors: Interiors, items: Iterable[int], at: datetime) -> dict[int, Whereabouts]:
    """Read the whereabouts of many off a loaded book; a case that holds many of them is judged once."""
    holders, links = book.holders(), Links(book, interiors)
    return {item: _answer(book, holders, links, item, at) for item in items}


def answer(book: Book, holders: Mapping[int, Row], interiors: Interiors, item: int, at: datetime) -> Whereabouts:
    """Read one item's whereabouts off a loaded book."""
    return _answer(book, holders, Links(book, interiors), item, at)


def _answer(
    book: Book, holders: Mapping[int, Row], known: Links, item: int, at: datetime, *, with_reasons: bool = True
) -> Whereabouts:
    links = chain(book, holders, known, item)
    if not links:
        ref = book.things[item].ref
        sentence = f"Nobody has said where {ref.words} is."
        reason = Reason("not known", sentence, "Scan it, or say where it is.", items=(item,))
        return Whereabouts(ref, at, (), Strength.UNKNOWN, None, sentence, (reason,))
    weakest = max(links, key=lambda link: link.strength.rank).strength
    return Whereabouts(
        item=book.things[item].ref,
        at=at,
        links=links,
        strength=weakest,
        since=_since(links, weakest),
        sentence=_sentence(book, links, weakest),
        reasons=tuple(reason for link in links for reason in _reasons(book, link)) if with_reasons else (),
    )


def chain(book: Book, holders: Mapping[int, Row], known: Links, item: int) -> tuple[Link, ...]:
    """The links outward; the last one may be cut because it closed a loop."""
    walked = walk(book, holders, item, book.planned)
    links = [known[one] for one in walked.path if one in holders or one in book.planned]
    if walked.cycle:
        links[-1] = _cut(book, holders, links[-1], walked.cycle)
    return tuple(links)


def _cut(book: Book, holders: Mapping[int, Row], link: Link, cycle: Sequence[int]) -> Link:
    """The oldest link of a loop does not count: where its thing is, nobody knows."""
    entries = tuple(holders[one].id for one in cycle if one in holders)
    was = f"was in {link.place.name}" if link.place else ""
    strength = max(link.strength, Strength.UNKNOWN, key=lambda one: one.rank)
    cites = tuple(dict.fromkeys((*link.cites, *entries)))
    return replace(link, place=None, bay="", seal="", strength=strength, remark=was, cites=cites)


def witness(link: Link) -> Evidence | None:
    """The entry a link stands on: its newest sight, else the word that placed it."""
    return link.evidence or link.placing


def _since(links: Sequence[Link], word: Strength) -> datetime | None:
    """The oldest evidence among the links of the chain's word."""
    times = [seen.at for link in links if link.strength == word and (seen := witness(link))]
    return min(times, default=None)


def _sentence(book: Book, links: Sequence[Link], word: Strength) -> str:
    name = links[0].item.words
    bay = f", {links[0].bay}" if links[0].bay else ""
    places = [place_words(book, link.place.id) for link in links if link.place]
    where = ", ".join([places[0] + bay, *places[1:]]) if places else ""
    if word == Strength.MISSING:
        gone = next(link.item.words for link in links if link.strength == Strength.MISSING)
        return f"{gone} is missing. {name} was last {where or 'nowhere known'}."
    lost = next((link for link in links if link.place is None), None)
    if lost is not None:
        known = f"{name} is {where}, but" if where else "Two entries contradict each other:"
        return f"{known} nobody can say where {lost.item.words} is; it {lost.remark}."
    if word == Strength.IN_DISPUTE:
        return f"{name} is {where}, by the newer of two stories."
    verb = {Strength.PLANNED_ONLY: "should be", Strength.WAS_IN_HERE: "was"}.get(word, "is")
    return f"{name} {verb} {where}."


def _reasons(book: Book, link: Link) -> list[Reason]:
    place = f" {place_words(book, link.place.id)}" if link.place else ""
    words = f"{link.item.words}{place}: {witness_words(link, witness(link))}"
    found = [Reason(link.strength.value, words, _way_out(link), link.cites, (link.item.id,))]
    stories = dispute(book, link.item.id) if link.strength == Strength.IN_DISPUTE else None
    for row in stories or ():
        told = f"{row.by} {row.verb} {link.item.words} {place_words(book, row.place or 0)}."
        found.append(Reason("one of two stories", told, "Correct the wrong one.", (row.id,), (link.item.id,)))
    return found


_WAYS = {
    Strength.WAS_IN_HERE: "Open {place}, scan {item}, close and seal it.",
    Strength.SAID: "Scan {item}.",
    Strength.PLANNED_ONLY: "Scan {item} into its place.",
    Strength.IN_DISPUTE: "Look, and correct the wrong story.",
    Strength.UNKNOWN: "Scan {item} where it stands.",
    Strength.MISSING: "Look for {item}; scan it when found.",
}


def _way_out(link: Link) -> str:
    place = link.place.name if link.place else "it"
    return _WAYS.get(link.strength, "").format(item=link.item.words, place=place)
