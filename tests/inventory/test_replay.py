"""The answers against a naive replay: any order, any split, any repetition, on the database in use.

Checks the ledger's invariants 1, 3 and 4 by Hypothesis. The shares of the unpleasant cases that the stories really
contain are printed at the end (pytest -s) and asserted.
"""

from __future__ import annotations

import os
from collections import Counter
from datetime import timedelta
from uuid import UUID, uuid5

import pytest
from django.db import connection, transaction
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from inventory import ledger, settling
from inventory.answers.book import Book, Doubt, Row, Spot, Thing, count_of, dispute, walk
from inventory.answers.contents import contents
from inventory.answers.loading import book_of
from inventory.answers.seals import read_interior
from inventory.answers.values import ItemRef, PlaceRef
from inventory.answers.whereabouts import answer, cited, whereabouts_of
from inventory.models import DayPass, Device, Entry, Holding, Kind, Label, Place, Role
from inventory.registering import inside_of
from tests.factories import T0, make_case, make_case_type, make_drive, make_item, make_place, make_type
from tests.inventory.replay import Replay, Told, World
from tests.inventory.stories import Cast, deliveries, stories

RECEIVED = T0 + timedelta(days=30)
# The same stories every time; STORIES=20 tries twenty times as many, and others each time.
MORE = int(os.environ.get("STORIES", "1"))
PURE, STORED = 100 * MORE, 24 * MORE
calm = {
    "deadline": None,
    "suppress_health_check": list(HealthCheck),
    "phases": [Phase.explicit, Phase.generate, Phase.shrink],
    "database": None,
    "derandomize": MORE == 1,
}
shares: Counter[str] = Counter()

# A cast without a database: items 1..9, their insides 101..109, rooms 201..203.
PHONES = [uuid5(UUID(int=0), name) for name in ("Ana Rell", "Pim Osgood")]
ON_PAPER = Cast(
    drives=[1, 2, 3], boxes=[4, 5], frame=6, trunk=7, vans=[8, 9], lot=10, plain=11,
    inside={item: item + 100 for item in (4, 5, 6, 7, 8, 9, 11)}, rooms=[201, 202], phones=PHONES,
)  # fmt: skip


def world_of(cast: Cast) -> World:
    kinds = dict.fromkeys([*cast.drives, *cast.boxes, cast.trunk, cast.lot, cast.plain], "other")
    kinds |= {cast.frame: "frame", **dict.fromkeys(cast.vans, "vehicle")}
    single = {(box, bay) for box in [*cast.boxes, cast.frame] for bay in "AB"}
    return World(
        kinds=kinds,
        inside={place: item for item, place in cast.inside.items()},
        holds=frozenset([*cast.boxes, cast.frame, cast.trunk, *cast.vans]),
        single=frozenset(single),
        homes={cast.drives[0]: cast.boxes[0]},
        lots=frozenset([cast.lot]),
        counts={cast.lot: 20},
    )


def row_of(one: Told) -> Row:
    return Row(
        one.id, one.act, one.verb, one.item, one.place, one.bay, one.quantity, one.seal, one.grade, one.at,
        one.stated, one.device, one.seq, one.offset, "Ana Rell", "",
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


def plain(links, names) -> list[dict]:
    """Links as the replay gives them."""
    numbers = {name: place for place, name in names.items()}
    found = []
    for link in links:
        witness = link.evidence or link.placing
        remark = link.remark
        if remark.startswith("was in "):
            remark = f"was in {numbers[remark.removeprefix('was in ')]}"
        found.append(
            {
                "item": link.item.id, "place": link.place.id if link.place else None, "bay": link.bay,
                "strength": link.strength.value, "seal": link.seal, "remark": remark,
                "placing": link.placing and link.placing.entry, "evidence": link.evidence and link.evidence.entry,
                "doubtful": witness is not None and witness.clock_doubtful,
            }
        )  # fmt: skip
    return found


def moments(told: list[Told]):
    times = sorted({one.at for one in told})
    return [times[len(times) // 3], times[2 * len(times) // 3], times[-1]]


def tally(told: list[Told], replay: Replay) -> None:
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
    for item in items:
        named = [one for one in replay.stay(item, n) if one.bay]
        shares["contested bays"] += bool(named) and replay.bay(item) != named[-1].bay
    strengths = {link["strength"] for item in items for link in replay.chain(item)}
    for word in strengths:
        shares[f"… {word}"] += 1


@settings(max_examples=PURE, **calm)
@given(stories(ON_PAPER, most=26))
def test_the_reading_of_a_book_equals_the_naive_replay(told):
    world = world_of(ON_PAPER)
    for at in moments(told):
        replay = Replay(world, told, at)
        doubts = {one.id: Doubt(by, one.id) for one in told if (by := replay.doubt(one.id)) is not None}
        book = paper_book(ON_PAPER, world, replay, doubts)
        check_book(book, replay, at)
    tally(told, replay)


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
def cast(db) -> Cast:
    box_type = make_case_type("Drive box", slots="A B", pockets="P", for_drives=True)
    boxes = [make_case(number, box_type) for number in ("HER-03", "HER-04")]
    frame = make_case("HERON", make_case_type("Ebbmark 6", kind=Kind.FRAME, slots="A B", pockets="P"))
    trunk = make_case("HER-14", make_case_type("Trunk"))
    vans = [make_case(name, make_case_type("Box van", kind=Kind.VEHICLE)) for name in ("Teasel", "Meadowrue")]
    plain_item = make_item(number="PANE")
    drives = [make_drive(f"71B0{n}K", number=f"D-{n}", home_case=boxes[0] if n == 0 else None) for n in range(3)]
    lot = make_item(make_type("Cord 2 m", is_lot=True), quantity=20, number="CORDS")
    for phone, name in zip(PHONES, ("Ana Rell", "Pim Osgood"), strict=True):
        Device.objects.create(id=phone, name=name, token_hash=name.ljust(64, "x"), joined_at=T0)
    DayPass.objects.create(
        reference="FJELL", code="K7", verbs="seen", valid_from=T0, valid_until=RECEIVED, made_by="Ida", made_at=T0
    )
    holders = [*boxes, frame, trunk, *vans, plain_item]
    return Cast(
        drives=[one.pk for one in drives], boxes=[one.pk for one in boxes], frame=frame.pk, trunk=trunk.pk,
        vans=[one.pk for one in vans], lot=lot.pk, plain=plain_item.pk,
        inside={one.pk: inside_of(one).pk for one in holders},
        rooms=[make_place("Mill Yard").pk, make_place("Quay Unit").pk], phones=PHONES,
    )  # fmt: skip


class Stage:
    """Delivers stories to the database, each in a transaction of its own that is thrown away."""

    def __init__(self, cast: Cast) -> None:
        self.cast = cast
        self.labels = dict(Label.objects.values_list("item", "pk"))
        self.the_pass = DayPass.objects.get().pk

    def entry(self, one: Told) -> Entry:
        return Entry(
            id=one.id, act=one.act, verb=one.verb, label_id=self.labels.get(one.item), place_id=one.place, bay=one.bay,
            seal=one.seal, quantity=one.quantity, grade=one.grade, happened_at=one.at, stated=one.stated,
            device_id=one.device, device_seq=one.seq, offset_ms=one.offset, by="Ana Rell",
            role=Role.KIT_MANAGER if one.role == "kit manager" else Role.CREW, corrects=one.corrects,
            day_pass_id=self.the_pass if one.by_pass else None,
        )  # fmt: skip

    def deliver(self, batches: list[list[Told]]) -> None:
        seen: set[UUID] = set()
        for batch in batches:
            new = ledger.append([self.entry(one) for one in batch], RECEIVED)
            assert new == {one.id for one in batch} - seen
            shares["corrections before targets"] += any(
                one.corrects and not any(two.act == one.corrects for b in batches for two in b if two.id in seen)
                for one in batch
                if one.corrects
            )
            seen |= new
        shares["deliveries"] += 1


def check_database(cast: Cast, told: list[Told]) -> None:
    world = world_of(cast)
    names = {place.pk: str(place.item) if place.item else place.name for place in Place.objects.select_related("item")}
    for at in moments(told):
        replay = Replay(world, told, at)
        found = whereabouts_of(list(world.kinds), at)
        for item, told_of in found.items():
            assert plain(told_of.links, names) == replay.chain(item)
        for item in (cast.boxes[0], cast.frame, cast.vans[0]):
            check_contents(cast, replay, item, at, names)
    stored = {row.pk: (row.place_id, row.bay, row.entry_id) for row in Holding.objects.all()}
    for item in world.kinds:
        assert stored.get(item, (None, "", None)) == replay.stored(item)


def check_contents(cast: Cast, replay: Replay, container: int, at, names) -> None:
    place = cast.inside[container]
    expected = {}
    for item in replay.world.kinds:
        link = (replay.chain(item) or [None])[0]
        if link and link["place"] == place and link["placing"]:
            expected[item] = link
    lines = contents(Place.objects.get(pk=place), at).lines
    assert {line.item.id: plain([line.link], names)[0] for line in lines if line.here} == expected


@pytest.fixture
def stage(cast):
    return Stage(cast)


def test_every_delivery_gives_what_the_replay_gives(stage):
    @settings(max_examples=STORED, **calm)
    @given(st.data())
    def run(data):
        told = data.draw(stories(stage.cast, most=18))
        for _ in range(2):
            with transaction.atomic():
                stage.deliver(data.draw(deliveries(told)))
                check_database(stage.cast, told)
                before = list(Holding.objects.order_by("pk").values())
                settling.rebuild()
                rebuilt = [row for row in Holding.objects.order_by("pk").values() if row["entry_id"]]
                assert rebuilt == [row for row in before if row["entry_id"]]
                transaction.set_rollback(True)

    run()


def everything(cast: Cast, at):
    found = whereabouts_of([*cast.drives, *cast.boxes, cast.frame, cast.trunk, *cast.vans, cast.lot], at)
    book, _ = book_of([cast.lot], at)
    return {item: (one.links, one.strength, one.since) for item, one in found.items()}, count_of(book, cast.lot)


def test_an_act_and_its_correction_change_nothing_and_neither_does_a_resend(stage):
    @settings(max_examples=max(STORED // 2, 5), **calm)
    @given(st.data())
    def run(data):
        told = data.draw(stories(stage.cast, most=14))
        extra = data.draw(stories(stage.cast, most=4))
        number = 5000
        own = [one for one in extra if one.verb != "corrected"]
        more = []
        for step, one in enumerate(own):
            more.append(
                Told(
                    **{**vars(one), "id": UUID(int=number + step), "act": UUID(int=number), "device": None, "seq": None}
                )
            )
        undo = Told(UUID(int=9999), UUID(int=9999), "corrected", T0, corrects=UUID(int=number), role="kit manager")
        at = max(one.at for one in [*told, *more, undo])
        with transaction.atomic():
            stage.deliver([told])
            before = everything(stage.cast, at)
            held = list(Holding.objects.filter(entry__isnull=False).order_by("pk").values())
            assert ledger.append([stage.entry(one) for one in told], RECEIVED) == set()
            assert everything(stage.cast, at) == before
            ledger.append([stage.entry(one) for one in data.draw(st.permutations([*more, undo]))], RECEIVED)
            assert everything(stage.cast, at) == before
            assert list(Holding.objects.filter(entry__isnull=False).order_by("pk").values()) == held
            assert Entry.objects.count() == len(told) + len(more) + 1
            transaction.set_rollback(True)

    run()


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
                assert cited(found) <= standing | clocks
            transaction.set_rollback(True)

    run()


def test_the_stories_really_hold_the_unpleasant_cases():
    """Runs last: the shares of what the stories of this run held."""
    if not shares["stories"] or not shares["deliveries"]:
        pytest.skip("run with the whole file")
    print(f"\n{connection.vendor}: of {shares['stories']} stories, {shares['deliveries']} deliveries:")  # noqa: T201
    for name, count in sorted(shares.items()):
        print(f"  {name}: {count}")  # noqa: T201
    for name in (
        "corrections before targets", "loops", "contested bays", "openings without a break", "re-seals", "disputes",
        "doubtful clocks", "late swaps", "placings that cannot be", "acts taken back", "… seen", "… sealed in",
        "… carried", "… was in here", "… said", "… planned only", "… in dispute", "… place unknown", "… missing",
    ):  # fmt: skip
        assert shares[name] > 0, name
