"""What does not fit together in the ledger: findings in words, each with the entries it stands on. Nothing is refused.

`of_things` reads them off a loaded book (an item's, a case's page); `oddities` asks for the whole ledger's page.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime, timedelta
from itertools import groupby
from typing import Any
from uuid import UUID

from django.db.models import Count, F, Max, Min, Q

from inventory.answers import loading
from inventory.answers.book import Book, Row, bay_of, count_of, dispute, walk
from inventory.answers.clock_doubts import CLOCK_SLACK
from inventory.answers.seals import Interior, read_interior
from inventory.answers.values import Reason
from inventory.answers.words import place_words
from inventory.models import Entry, Holding, Item, Place, Verb
from inventory.models.entries import SetAside

MOST = 200


def oddities(
    items: Iterable[Item] = (), places: Iterable[Place] = (), at: datetime | None = None, most: int = MOST
) -> list[Reason]:
    """Findings about these items, or about what is in these places; of the whole ledger if neither is named."""
    asked = {item.pk for item in items}
    spots = list(places)
    if at is None:
        at = Entry.objects.aggregate(newest=Max("happened_at"))["newest"]
    if at is None:
        return []
    if asked or spots:
        asked |= {place.item_id for place in spots if place.item_id}
        held = Holding.objects.filter(Q(place__in=spots) | Q(place__item__in=asked))
        asked |= set(held.values_list("pk", flat=True)[:most])
        book, containers = loading.book_of(asked, at)
        return of_things(book, asked, {one: read_interior(book, one) for one in containers})[:most]
    return [*of_devices(), *of_uploads(most)][:most]


def of_things(book: Book, items: Iterable[int], interiors: Mapping[int, Interior]) -> list[Reason]:
    """Findings that a loaded book shows about these things; openings as far back as the book was loaded."""
    found: list[Reason] = []
    holders = book.holders()
    for item in sorted(set(items)):
        found += [*_impossible(book, item), *_bay_lost(book, item), *_loop(book, holders, item), *_dispute(book, item)]
        found += [*_untold_openings(book, item, interiors.get(item)), *_counts(book, item)]
    return list(dict.fromkeys(found))


def _impossible(book: Book, item: int) -> Iterator[Reason]:
    """A placing that cannot be: kept, but it moved nothing."""
    thing = book.things[item]
    for row in book.rows.get(item, ()):
        if row.place is None or book.is_placing(row):
            continue
        where = book.spots[row.place].ref.name
        if book.spots[row.place].item == item:
            why = f"{thing.ref.words} inside itself"
        elif thing.kind == "vehicle":
            why = f"the vehicle {thing.ref.words} inside {where}, which is no vehicle"
        else:
            why = f"{thing.ref.words} inside {where}, which holds nothing"
        yield Reason(
            "cannot be", f"{row.by} recorded {why}. It moved nothing.", "Record where it is.", (row.id,), (item,)
        )


def _bay_lost(book: Book, item: int) -> Iterator[Reason]:
    bay = bay_of(book, item)
    if bay.taken_by is None or bay.named is None:
        return
    other = book.things[bay.taken_by.item].ref.words
    name, where = book.things[item].ref.words, book.spots[bay.named.place or 0].ref.name
    sentence = f"Two for bay {bay.named.bay} of {where}: {other} took it, {name} is in there without a bay."
    way = f"Place {name} anew, with the bay it is in."
    yield Reason("two in one bay", sentence, way, (bay.named.id, bay.taken_by.id), (item, bay.taken_by.item))


def _loop(book: Book, holders: Mapping[int, Row], item: int) -> Iterator[Reason]:
    cycle = sorted(walk(book, holders, item, book.planned).cycle)
    if item in cycle:
        names = " and ".join(sorted(book.things[one].ref.words for one in cycle))
        entries = tuple(sorted(holders[one].id for one in cycle if one in holders))
        sentence = f"A loop: {names} are recorded inside each other."
        yield Reason("loop", sentence, "Scan one of them where it stands.", entries, tuple(cycle))


def _dispute(book: Book, item: int) -> Iterator[Reason]:
    stories = dispute(book, item)
    if stories:
        told = " / ".join(f"{row.by} {row.verb} it {place_words(book, row.place or 0)}" for row in reversed(stories))
        sentence = f"Two stories of {book.things[item].ref.words}: {told}."
        yield Reason("two stories", sentence, "Look, and correct the wrong one.", _ids(stories), (item,))


def _ids(rows: Iterable[Row]) -> tuple[UUID, ...]:
    return tuple(row.id for row in rows)


def _untold_openings(book: Book, item: int, interior: Interior | None) -> Iterator[Reason]:
    """Sealed, then touched, and nobody said that the seal was broken."""
    name = book.things[item].ref.words
    for one in interior.openings if interior else ():
        if one.is_untold and one.seal:
            number = f"seal {one.seal.seal}" if one.seal.seal else "a seal without a number"
            told = f"{one.row.by} recorded {book.things[one.row.item].ref.words}: {one.row.verb}"
            sentence = f"{name} was closed by {number}, then {told}. Nobody said the seal was broken."
            way = "Look at the seal, and record what you find."
            yield Reason("opened untold", sentence, way, (one.seal.id, one.row.id), (item,))
    for row in interior.only_said if interior else ():
        told = f"{row.by} recorded {book.things[row.item].ref.words}: {row.verb} ({row.grade})"
        sentence = f"{name} is sealed, yet {told}. It opened nothing."
        yield Reason("sealed, yet told", sentence, f"Open {name} and look, or correct it.", (row.id,), (item, row.item))


def _counts(book: Book, item: int) -> Iterator[Reason]:
    """A lot that was counted short or over what there should be."""
    count, row = count_of(book, item)
    thing = book.things[item]
    if row is not None and count != thing.quantity:
        sentence = f"{thing.ref.words}: {count} counted by {row.by}, {thing.quantity} there should be."
        yield Reason("count differs", sentence, "Count again, or amend how many there should be.", (row.id,), (item,))


def of_acts(acts: Iterable[UUID]) -> list[Reason]:
    """Acts that moved some of a lot but whose counts do not keep the sum that stood before."""
    counts = loading.live().filter(act__in=set(acts), verb=Verb.COUNTED, label__item__isnull=False)
    rows = list(counts.select_related("label__item__type"))
    found = []
    for _act, group in groupby(sorted(rows, key=lambda row: (str(row.act), str(row.id))), key=lambda row: row.act):
        counted = list(group)
        if len(counted) < 2:
            continue
        before = sum(_count_before(row) for row in counted)
        after = sum(row.quantity or 0 for row in counted)
        if before != after:
            sentence = f"{counted[0].by} moved some of a lot: {before} stood before, {after} after."
            found.append(Reason("sum differs", sentence, "Count both again.", tuple(row.id for row in counted)))
    return found


def _count_before(row: Entry) -> int:
    earlier = (
        loading.live(row.happened_at).filter(label__item=row.label.item_id, verb=Verb.COUNTED).exclude(act=row.act)
    )
    newest = earlier.order_by("-happened_at", "-id").values_list("quantity", flat=True).first()
    return newest if newest is not None else row.label.item.quantity


def of_devices() -> list[Reason]:
    """Clocks that were off, steps that are missing or used twice: per phone, in words."""
    stamped = Entry.objects.filter(device__isnull=False, device_seq__isnull=False).order_by()
    found: list[Reason] = []
    rows = stamped.values("device", "device__name").annotate(
        first=Min("device_seq"), last=Max("device_seq"), steps=Count("device_seq", distinct=True), entries=Count("id"),
        no_offset=Count("id", filter=Q(offset_ms=None, stated=False)), low=Min("offset_ms"), high=Max("offset_ms"),
        future=Count("id", filter=Q(happened_at__gte=F("received_at"), stated=False, offset_ms__isnull=False)),
    )  # fmt: skip
    for row in rows.order_by("device__name", "device"):
        found += _device_words(row)
    return found


def _device_words(row: dict[str, Any]) -> Iterator[Reason]:
    name = f"{row['device__name']}'s phone"
    automatic = "Set that phone's clock to automatic."
    gap = row["last"] - row["first"] + 1 - row["steps"]
    twice = row["entries"] - row["steps"]
    moved = timedelta(milliseconds=(row["high"] or 0) - (row["low"] or 0))
    if gap:
        sentence = f"{name} sent steps {row['first']} to {row['last']}; {gap} of them never arrived."
        yield Reason("steps missing", sentence, "Open that phone near a signal: it may still hold them.")
    if twice:
        sentence = f"{name} used {twice} of its step numbers twice: perhaps it was restored from a copy."
        yield Reason("step used twice", sentence, "Join the pass anew on that phone.")
    if row["no_offset"]:
        sentence = f"{name} made {row['no_offset']} entries before its clock was ever compared with ours."
        yield Reason("clock unknown", sentence, "Compare their times with others' before relying on them.")
    if moved > CLOCK_SLACK:
        minutes = round(moved / timedelta(minutes=1))
        sentence = (
            f"The clock of {name} moved by up to {minutes} min between two contacts: times in between are doubtful."
        )
        yield Reason("clock moved", sentence, automatic)
    if row["future"]:
        sentence = f"{name} stamped {row['future']} entries later than they arrived; they count as of their arrival."
        yield Reason("clock ahead", sentence, automatic)


def of_uploads(most: int = MOST) -> list[Reason]:
    """Second bodies under a known id, and uploads that nobody could read: kept aside, never dropped."""
    aside = SetAside.objects.filter(settled_at=None).exclude(why=SetAside.Why.HELD)[:most]
    return [
        Reason(
            row.why, row.sentence, "Read what the phone sent; record what is true.", tuple(filter(None, [row.entry_id]))
        )
        for row in aside
    ]
