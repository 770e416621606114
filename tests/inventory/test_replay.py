"""The answers against a naive replay: any order, any split, any repetition, on the database in use.

The shares of the unpleasant cases that the stories really contain are printed (pytest -s) and asserted by the test
that told them.
"""

from __future__ import annotations

from collections import Counter
from uuid import UUID

import pytest
from django.db import connection, transaction
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory import settling
from inventory.answers import latest
from inventory.answers.book import Book, Doubt, Row, Spot, Thing, count_of, dispute, walk
from inventory.answers.contents import contents
from inventory.answers.seals import read_interior
from inventory.answers.values import ItemRef, PlaceRef
from inventory.answers.whereabouts import answer, whereabouts_of
from inventory.models import Holding, Place
from tests.inventory.replay import Replay, Told, World
from tests.inventory.staging import (
    ON_PAPER,
    PURE,
    STORED,
    Stage,
    calm,
    make_cast,
    moments,
    plain,
    print_shares,
    stored,
    world_of,
)
from tests.inventory.stories import Cast, deliveries, stories

# What the stories must really hold, or they prove nothing.
UNPLEASANT = (
    "loops", "contested bays", "openings without a break", "re-seals", "disputes",
    "doubtful clocks", "late swaps", "placings that cannot be", "acts taken back", "… seen", "… sealed in",
    "… carried", "… was in here", "… said", "… planned only", "… in dispute", "… place unknown", "… missing",
)  # fmt: skip


def row_of(one: Told) -> Row:
    return Row(
        one.id, one.verb, one.item, one.place, one.bay, one.quantity, one.seal, one.grade, one.at,
        one.stated, one.device, "Ana Rell", "",
    )  # fmt: skip


def paper_book(cast: Cast, world: World, replay: Replay, doubts) -> Book:
    things = {
        item: Thing(
            ItemRef(item, "", f"item {item}", ""), kind, item in world.holds, cast.inside.get(item),
            world.homes.get(item), item in world.lots, world.counts.get(item, 1),
            frozenset(bay for box, bay in world.single if box == item),
        )
        for item, kind in world.kinds.items()
    }  # fmt: skip
    places = {**world.inside, **dict.fromkeys(cast.rooms)}
    spots = {
        place: Spot(PlaceRef(place, "inside" if item else "room", f"place {place}", item), "", "")
        for place, item in places.items()
    }
    rows: dict[int, list[Row]] = {item: [] for item in world.kinds}
    for one in replay.live:
        if one.item is not None:
            rows[one.item].append(row_of(one))
    planned = {item: cast.inside[home] for item, home in world.homes.items()}
    return Book(things, spots, {item: tuple(own) for item, own in rows.items()}, planned, doubts)


def tally(shares: Counter[str], told: list[Told], replay: Replay) -> None:
    """Which unpleasant cases does this story hold?"""
    n = len(replay.live)
    items = list(replay.world.kinds)
    shares["stories"] += 1
    shares["loops"] += any(replay.up(item, n)[1] for item in items)
    shares["disputes"] += any(replay.dispute(item) for item in items)
    shares["doubtful clocks"] += any(replay.doubt(one.id) is not None for one in told)
    shares["late swaps"] += any(one.stated and one.at < max(two.at for two in told) for one in told)
    shares["placings that cannot be"] += any(one.place and not replay.moves(one) for one in told)
    shares["acts taken back"] += any(one.verb != "corrected" and not replay.stands(one) for one in told)
    cases = [c for c in replay.world.holds if replay.world.kinds[c] != "vehicle"]
    opened = [(c, m) for c in cases for m in range(n) if replay.sealed(c, m) and replay.opens(c, m)]
    shares["openings without a break"] += any(replay.live[m].verb != "seal broken" for _, m in opened)
    seals = Counter(one.item for one in replay.live if one.verb == "sealed")
    shares["re-seals"] += any(number > 1 for number in seals.values())
    shares["contested bays"] += any(lost_its_bay(replay, item) for item in items)
    strengths = {link["strength"] for item in items for link in replay.chain(item)}
    for word in strengths:
        shares[f"… {word}"] += 1


def lost_its_bay(replay: Replay, item: int) -> bool:
    named = [one for one in replay.stay(item, len(replay.live)) if one.bay]
    return bool(named) and replay.bay(item) != named[-1].bay


def test_the_reading_of_a_book_equals_the_naive_replay():
    shares: Counter[str] = Counter()

    @settings(max_examples=PURE, **calm)
    @given(stories(ON_PAPER, most=26))
    def run(told):
        world = world_of(ON_PAPER)
        for at in moments(told):
            replay = Replay(world, told, at)
            doubts = {one.id: Doubt(by, one.id) for one in told if (by := replay.doubt(one.id)) is not None}
            check_book(paper_book(ON_PAPER, world, replay, doubts), replay, at)
        tally(shares, told, replay)

    run()
    print_shares("on paper", shares)
    for name in UNPLEASANT:
        assert shares[name] > 0, name


def check_book(book: Book, replay: Replay, at) -> None:
    interiors = {container: read_interior(book, container) for container in replay.world.holds}
    holders = book.holders()
    names = {place: spot.ref.name for place, spot in book.spots.items()}
    for item in replay.world.kinds:
        found = answer(book, holders, interiors, item, at)
        assert plain(found.links, names) == replay.chain(item)
        assert count_of(book, item)[0] == replay.count(item)
        pair = dispute(book, item)
        assert (pair and (pair[0].id, pair[1].id)) == replay.dispute(item)
        path = walk(book, holders, item, book.planned).path
        assert len(set(path)) == len(path), "a thing inside itself"


@settings(max_examples=PURE // 2, **calm)
@given(stories(ON_PAPER))
def test_the_entries_a_link_cites_give_the_same_link_alone(told):
    world = world_of(ON_PAPER)
    at = max(one.at for one in told)
    full = Replay(world, told, at)
    doubts = {
        one.id: Doubt(by, after) for one in told if (by := full.doubt(one.id)) for after in [next_offset(told, one)]
    }
    book = paper_book(ON_PAPER, world, full, doubts)
    interiors = {container: read_interior(book, container) for container in world.holds}
    holders = book.holders()
    names = {place: spot.ref.name for place, spot in book.spots.items()}
    for item in world.kinds:
        for link in answer(book, holders, interiors, item, at).links:
            alone = Replay(world, [one for one in told if one.id in link.cites], at)
            [mine] = plain([link], names)
            chain = alone.chain(link.item.id)
            assert mine in chain[:1] or (not link.cites and mine["strength"] == "planned only")


def next_offset(told: list[Told], one: Told) -> UUID:
    later = [two for two in told if two.device == one.device and two.seq > one.seq and two.offset != one.offset]
    return min(later, key=lambda two: two.seq).id


# On the database


@pytest.fixture
def stage(db) -> Stage:
    return Stage(make_cast())


def check_database(cast: Cast, told: list[Told]) -> None:
    world = world_of(cast)
    names = {place.pk: str(place.item) if place.item else place.name for place in Place.objects.select_related("item")}
    for at in moments(told):
        replay = Replay(world, told, at)
        found = whereabouts_of(list(world.kinds), at)
        for item, told_of in found.items():
            assert plain(told_of.links, names) == replay.chain(item)
            path = [link.item.id for link in told_of.links]
            assert len(set(path)) == len(path), "a thing inside itself"
        for item in (cast.boxes[0], cast.frame, cast.vans[0]):
            check_contents(cast, replay, item, at, names)
    check_holdings(world, told)


def check_holdings(world: World, told: list[Told]) -> None:
    replay = Replay(world, told, max(one.at for one in told))
    held = {row.pk: (row.place_id, row.bay, row.entry_id) for row in Holding.objects.all()}
    for item in world.kinds:
        assert held.get(item, (None, "", None)) == replay.stored(item)


def check_contents(cast: Cast, replay: Replay, container: int, at, names) -> None:
    place = cast.inside[container]
    expected = {}
    for item in replay.world.kinds:
        link = (replay.chain(item) or [None])[0]
        if link and link["place"] == place and link["placing"]:
            expected[item] = link
    lines = contents(Place.objects.get(pk=place), at).lines
    assert {line.item.id: plain([line.link], names)[0] for line in lines if line.here} == expected


def test_every_delivery_gives_what_the_replay_gives(stage, monkeypatch):
    shares: Counter[str] = Counter()
    counted(monkeypatch, shares)

    @settings(max_examples=STORED, **calm)
    @given(st.data())
    def run(data):
        told = data.draw(stories(stage.cast, most=18))
        # How many of a thing's newest entries are read at first must never change an answer.
        monkeypatch.setattr(latest, "STEPS", data.draw(st.sampled_from([(0,), (1,), (2, 4), (1, 16), (4, 16)])))
        monkeypatch.setattr(latest, "BEFORE", data.draw(st.sampled_from([0, 1, 8])))
        for _ in range(2):
            with transaction.atomic():
                early = stage.deliver(data.draw(deliveries(told)))
                check_database(stage.cast, told)
                check_rebuilding()
                transaction.set_rollback(True)
            shares["stories"] += 1
            shares["corrections before targets"] += early

    run()
    print_shares(f"delivered to {connection.vendor}", shares)
    assert shares["corrections before targets"] > 0
    assert shares["things moved on"] > 0
    assert shares["things settled anew"] > 0


def counted(monkeypatch, shares: Counter[str]) -> None:
    """Count how Holding was brought up to date: from where a thing stood, or from all that was told of it."""
    onward, anew = settling._onward, settling._settle_anew

    def moved_on(*args):
        found = onward(*args)
        shares["things moved on"] += len(found)
        return found

    def settled(items, *beside):
        items = set(items)
        shares["things settled anew"] += len(items)
        anew(items, *beside)

    monkeypatch.setattr(settling, "_onward", moved_on)
    monkeypatch.setattr(settling, "_settle_anew", settled)


def check_rebuilding() -> None:
    before = stored()
    settling.rebuild()
    assert stored() == before


def test_cited_entries_name_entries_that_stand(stage):
    @settings(max_examples=5, **calm)
    @given(stories(stage.cast, most=14))
    def run(told):
        at = max(one.at for one in told)
        replay = Replay(world_of(stage.cast), told, at)
        standing = {one.id for one in replay.live}
        with transaction.atomic():
            stage.deliver([told])
            for found in whereabouts_of([*stage.cast.drives, *stage.cast.boxes], at).values():
                clocks = {one.id for one in told if one.device}
                assert {entry for link in found.links for entry in link.cites} <= standing | clocks
            transaction.set_rollback(True)

    run()


def test_the_entries_a_link_cites_give_the_same_link_alone_on_the_database(stage):
    names = {place.pk: str(place.item) if place.item else place.name for place in Place.objects.select_related("item")}
    cites: Counter[int] = Counter()

    def first_link(told: list[Told], item: int, at):
        with transaction.atomic():
            stage.deliver([told])
            [found] = whereabouts_of([item], at).values()
            transaction.set_rollback(True)
        return found.links[0] if found.links else None

    @settings(max_examples=STORED // 2, **calm)
    @given(stories(stage.cast, most=14), st.sampled_from(stage.cast.drives))
    def run(told, item):
        at = max(one.at for one in told)
        full = first_link(told, item, at)
        if full is None or not full.cites:
            return
        alone = first_link([one for one in told if one.id in full.cites], item, at)
        assert plain([alone], names) == plain([full], names)
        cites[len(full.cites)] += 1

    run()
    assert max(cites) > 1, "no link stood on more than one entry"
