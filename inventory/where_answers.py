"""What Where is… answers for each kind of thing that a text may mean: a sentence, the drives, what to do next."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.utils import timezone

from inventory.answers import registry
from inventory.answers.content import drives_of, members
from inventory.answers.drive_loading import book_for
from inventory.answers.drive_rows import LAST_ID
from inventory.answers.holders import Holder, holders
from inventory.answers.starts import WipeBook
from inventory.answers.values import ItemRef, Reason, Strength, Whereabouts
from inventory.answers.whereabouts import whereabouts, whereabouts_of
from inventory.answers.wiping import answer_drive, drives_of_set, open_book
from inventory.models import DriveSet, Entry, Holding, Item, Person, PlaceKind, Verb
from inventory.naming import item_named, set_named

HELD = 60


@dataclass(frozen=True, slots=True)
class DriveLine:
    """One drive of the answer: where, how sure, and that it is no member any more."""

    seen: Whereabouts
    left_the_set: bool = False
    suspect: bool = False

    @property
    def item(self) -> ItemRef:
        return self.seen.item


@dataclass(frozen=True, slots=True)
class DrivesAnswer:
    """A sentence about some drives, each of them, and what to do next."""

    sentence: str
    drives: tuple[DriveLine, ...] = ()
    next: tuple[str, ...] = ()
    holders: tuple[Holder, ...] = ()


@dataclass(frozen=True, slots=True)
class SetWhereabouts:
    """Where a drive set is: each drive's own answer, and of them all the weakest strength."""

    name: str
    at: datetime
    sentence: str
    reasons: tuple[Reason, ...]
    drives: tuple[Whereabouts, ...]

    @property
    def answer(self) -> str:
        weakest = max((one.strength for one in self.drives), key=lambda one: one.rank, default=Strength.UNKNOWN)
        return weakest.value


def subject_named(text: str) -> Item | DriveSet | None:
    """A set by its name, else the thing that a code, number or serial names; None if none is known."""
    return set_named(text) or item_named(text)


def references_of(subject: Item | DriveSet) -> set[str]:
    """Whose shows may ask for it: nobody's for a set, since each of its drives may tell of another client."""
    return registry.references_of(subject) if isinstance(subject, Item) else set()


def ask(subject: Item | DriveSet, at: datetime) -> Whereabouts | SetWhereabouts:
    """Where the thing is, or each drive of the set and of what it recorded."""
    if isinstance(subject, Item):
        return whereabouts(subject, at)
    told = of_set(subject, at)
    drives = tuple(line.seen for line in told.drives)
    reasons = tuple(dict.fromkeys(reason for one in drives for reason in one.reasons))
    return SetWhereabouts(str(subject), at, told.sentence, reasons, drives)


def of_set(drive_set: DriveSet, at: datetime) -> DrivesAnswer:
    """Every drive that is of the set or still holds what the set recorded, by the place where it is."""
    wipe_book = open_book(book_for(sets=[drive_set.pk]), at)
    ids = drives_of_set(wipe_book, drive_set.pk)
    now = set(members(wipe_book.content.scene, drive_set.pk, (at, LAST_ID)))
    lead = f"{drive_set} is {len(ids)} drive{'s' if len(ids) != 1 else ''}" if ids else f"{drive_set} has no drives"
    return _told(wipe_book, ids, now, lead)


def of_show(reference: str, at: datetime) -> DrivesAnswer:
    """Every drive that ever held the show, and still does; each member's and each swapped-out one."""
    wipe_book = open_book(book_for(references=[reference]), at)
    ids = [one for one in drives_of(wipe_book.content, reference) if _still(wipe_book, one, reference)]
    sets = sorted({p.drive_set for one in ids for p in wipe_book.content.of(one) if p.drive_set is not None})
    now = {one for drive_set in sets for one in members(wipe_book.content.scene, drive_set, (at, LAST_ID))}
    if not ids:
        return DrivesAnswer(f"By the book no drive of ours holds {reference}.")
    names = " and ".join(wipe_book.book.sets[one].name for one in sets)
    lead = f"{reference} is on {len(ids)} drive{'s' if len(ids) != 1 else ''}{f' ({names})' if names else ''}"
    return _told(wipe_book, ids, now, lead)


def _still(wipe_book: WipeBook, drive: int, reference: str) -> bool:
    return any(reference in piece.references for piece in wipe_book.still_holds(drive))


def of_day(day: date, at: datetime, allowed: Collection[str] | None = None) -> list[tuple[str, DrivesAnswer]]:
    """What was recorded on a day of the venue's clock: (show, its drives). `allowed` narrows to a client's shows."""
    start = timezone.make_aware(datetime.combine(day, datetime.min.time()))
    rows = Entry.objects.filter(verb__in=(Verb.RECORDING, Verb.STOPPED), happened_at__gte=start, happened_at__lte=at)
    rows = rows.exclude(reference="").order_by("happened_at")
    shows = [one.reference for one in rows if timezone.localdate(one.happened_at) == day]
    kept = [one for one in dict.fromkeys(shows) if allowed is None or one in allowed]
    return [(show, of_show(show, at)) for show in kept]


def of_person(person: Person, at: datetime) -> dict[str, object]:
    """What is in somebody's hands, when its drives are due, and the number to ring."""
    held = Holding.objects.filter(place__person=person)
    count = held.count()
    words = f"{person} holds {count} thing{'' if count == 1 else 's'}."
    drives = [one for one in holders(at) if one.person.pk == person.pk]
    phone = f" Phone {person.phone}." if person.phone else " No telephone number is in the book."
    found = whereabouts_of(list(held.order_by("item").values_list("item", flat=True)[:HELD]), at)
    lines = tuple(DriveLine(seen) for seen in found.values())
    return {"sentence": words + phone, "drives": lines, "heading": "Thing", "holders": drives}


def _told(wipe_book: WipeBook, ids: Sequence[int], now: Collection[int], lead: str) -> DrivesAnswer:
    found = whereabouts_of(ids, wipe_book.at)
    order = sorted(ids, key=lambda drive: drive not in now)
    lines = [DriveLine(found[one], one not in now, _is_suspect(wipe_book, one)) for one in order]
    groups = _by_place(line.seen for line in lines if not line.left_the_set)
    parts = [f"{len(answers)} {where}" for where, answers in sorted(groups.items(), key=lambda g: -len(g[1]))]
    sentence = f"{lead}: {'; '.join(parts)}." if parts else f"{lead}."
    more = [_swapped_out(line) for line in lines if line.left_the_set]
    sentence = " ".join([sentence, *more])
    return DrivesAnswer(sentence, tuple(lines), _next(lines), holders(wipe_book.at, ids))


def _swapped_out(line: DriveLine) -> str:
    name, suspect = line.item.serial or line.item.words, ", suspect" if line.suspect else ""
    return f"One more holds the same: {name}, swapped out{suspect}, {place_words(line.seen)}."


def _is_suspect(wipe_book: WipeBook, drive: int) -> bool:
    return any(reason.word == "suspect" for reason in answer_drive(wipe_book, drive).reasons)


def _by_place(answers: Iterable[Whereabouts]) -> dict[str, list[Whereabouts]]:
    groups: dict[str, list[Whereabouts]] = {}
    for answer in answers:
        groups.setdefault(place_words(answer), []).append(answer)
    return groups


def _next(lines: Iterable[DriveLine]) -> tuple[str, ...]:
    """The ways out of what is weak, alike ones once."""
    ways = [reason.way_out for line in lines for reason in line.seen.reasons if reason.way_out]
    return tuple(dict.fromkeys(ways))[:3]


def place_words(answer: Whereabouts) -> str:
    """ "in HER-04, on Teasel" of "HERON-2 A 71B04K is in HER-04, A, on Teasel, at Fjellmark Hall."."""
    places = [link.place.name.removeprefix("inside ") for link in answer.links if link.place is not None]
    if places and answer.links[0].place is not None and answer.links[0].place.kind == PlaceKind.PERSON:
        return f"with {places[0]}"
    return "in " + ", ".join(places[:3]) if places else "nobody has said where"
