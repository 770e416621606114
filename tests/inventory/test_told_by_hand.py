"""Small stories at the edges of the rules, told in every order, one entry at a time, against the naive replay.

Random stories meet these edges seldom or never: the minute after a sealing, and a bay that another item's entry takes
or gives back.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import timedelta
from itertools import permutations
from uuid import UUID

import pytest
from django.db import transaction

from tests.factories import T0
from tests.inventory.replay import Replay, Told
from tests.inventory.staging import ON_PAPER, Stage, make_cast, world_of
from tests.inventory.stories import Cast
from tests.inventory.test_replay import check_book, check_database, check_holdings, check_rebuilding, paper_book

ANA, PIM = 0, 1


@dataclass
class Teller:
    """Tells entries of a story; `after` is seconds since the evening began."""

    cast: Cast
    told: list[Told] = field(default_factory=list)

    def tell(self, after: float, verb: str, item: int | None = None, *, phone: int | None = None, **over) -> Told:
        number = len(self.told) + 1
        device = None if phone is None else self.cast.phones[phone]
        fields = {"grade": "tick", "role": "kit manager"} if device is None else {"device": device, "seq": number}
        at = T0 + timedelta(seconds=after)
        made = Told(UUID(int=number), UUID(int=number), verb, at, item=item, **{**fields, "offset": None, **over})
        self.told.append(made)
        return made

    def pack(self, after: float, drive: int, box: int = 0, **over) -> Told:
        return self.tell(after, "packed", self.cast.drives[drive], place=self.cast.inside[self.cast.boxes[box]], **over)

    def seal(self, after: float, **over) -> Told:
        return self.tell(after, "sealed", self.cast.boxes[0], seal="1", **over)

    def undo(self, after: float, one: Told) -> Told:
        return self.tell(after, "corrected", corrects=one.act)


def _sealed_then(after: float, phone: int, **over) -> Callable[[Teller], None]:
    def tell(story: Teller) -> None:
        story.pack(0, 0, phone=ANA)
        story.seal(100, phone=ANA)
        story.pack(100 + after, 1, phone=phone, **over)

    return tell


def _nested_within_the_minute(story: Teller) -> None:
    """Into a box that is in the sealed trunk: not into the trunk itself, so the trunk was open."""
    story.tell(0, "packed", story.cast.boxes[0], place=story.cast.inside[story.cast.trunk], phone=ANA)
    story.tell(100, "sealed", story.cast.trunk, seal="1", phone=ANA)
    story.pack(120, 1, phone=PIM)


def _out_within_the_minute(story: Teller) -> None:
    story.pack(0, 0, phone=ANA)
    story.seal(100, phone=ANA)
    story.tell(120, "placed", story.cast.drives[0], place=story.cast.rooms[0], phone=PIM)


def _taken(story: Teller) -> None:
    story.pack(0, 0, bay="A")
    story.pack(10, 1, bay="A")


def _given_back(story: Teller) -> None:
    story.pack(0, 0, bay="A")
    story.undo(20, story.pack(10, 1, bay="A"))


def _taken_by_a_guest_who_left(story: Teller) -> None:
    story.pack(0, 0, bay="A")
    story.pack(10, 1, bay="A")
    story.tell(20, "pulled", story.cast.drives[1], place=story.cast.rooms[0])


def _taken_by_an_import_that_ends(story: Teller) -> None:
    story.pack(10, 1, bay="A", grade="import")
    story.pack(0, 0, bay="A")
    story.tell(20, "placed", story.cast.drives[1], place=story.cast.rooms[0])


def _three_for_one(story: Teller) -> None:
    story.pack(0, 0, bay="A")
    story.pack(10, 1, bay="A")
    story.undo(30, story.pack(20, 2, bay="A"))


def _taken_back_by_a_pass(story: Teller) -> None:
    """A pass that calls itself kit manager takes back nothing of others'."""
    story.pack(0, 0, bay="A")
    one = story.pack(10, 1, bay="A", phone=PIM)
    story.tell(20, "corrected", corrects=one.act, by_pass=True)


def _pocket(story: Teller) -> None:
    story.pack(0, 0, bay="P")
    story.pack(10, 1, bay="P")


# Name of the story, how it is told, and one thing it must show, by the replay, or it tests nothing.
SEALED, OPEN = True, False
SEALS = [
    ("another phone, at once", _sealed_then(0.001, PIM), SEALED),
    ("another phone, at the end of the minute", _sealed_then(60, PIM), SEALED),
    ("another phone, a moment after the minute", _sealed_then(60.001, PIM), OPEN),
    ("the same phone within the minute", _sealed_then(20, ANA), OPEN),
    ("by word, later", _sealed_then(300, PIM, grade="said"), SEALED),
    ("by tick, later", _sealed_then(300, PIM, grade="tick"), OPEN),
    ("out by another phone within the minute", _out_within_the_minute, OPEN),
]
BAYS = [
    ("taken", _taken, ["", "A"]),
    ("given back by a correction", _given_back, ["A", ""]),
    ("not given back by leaving", _taken_by_a_guest_who_left, ["", ""]),
    ("given back by an import that no longer counts", _taken_by_an_import_that_ends, ["A", ""]),
    ("three, the last taken back", _three_for_one, ["", "A"]),
    ("not given back by a pass", _taken_back_by_a_pass, ["", "A"]),
    ("a pocket holds both", _pocket, ["P", "P"]),
]
NESTED = ("into a box in the sealed trunk within the minute", _nested_within_the_minute)
EVERY = [(name, tell) for name, tell, _ in [*SEALS, *BAYS]] + [NESTED]


def told_by(tell: Callable[[Teller], None], cast: Cast) -> list[Told]:
    story = Teller(cast)
    tell(story)
    return story.told


def read(told: list[Told]) -> Replay:
    return Replay(world_of(ON_PAPER), told, max(one.at for one in told))


@pytest.mark.parametrize(("tell", "sealed"), [pytest.param(tell, sealed, id=name) for name, tell, sealed in SEALS])
def test_the_replay_itself_keeps_the_seal_or_not(tell, sealed):
    replay = read(told_by(tell, ON_PAPER))
    assert replay.sealed(ON_PAPER.boxes[0], len(replay.live)) is sealed


def test_the_replay_opens_a_trunk_by_what_goes_into_a_box_in_it():
    replay = read(told_by(_nested_within_the_minute, ON_PAPER))
    assert not replay.sealed(ON_PAPER.trunk, len(replay.live))


@pytest.mark.parametrize(("tell", "bays"), [pytest.param(tell, bays, id=name) for name, tell, bays in BAYS])
def test_the_replay_itself_gives_the_bays(tell, bays):
    replay = read(told_by(tell, ON_PAPER))
    assert [replay.bay(drive) for drive in ON_PAPER.drives[:2]] == bays


@pytest.mark.parametrize("tell", [pytest.param(tell, id=name) for name, tell in EVERY])
def test_the_book_reads_each_as_the_replay_does(tell):
    told, world = told_by(tell, ON_PAPER), world_of(ON_PAPER)
    for at in {one.at for one in told}:
        replay = Replay(world, told, at)
        check_book(paper_book(ON_PAPER, world, replay, {}), replay, at)


def orders(told: list[Told]) -> Iterator[list[Told]]:
    """Every order that keeps each phone's own."""
    for order in permutations(told):
        sent = [(one.device, one.seq) for one in order if one.device]
        if all(sent.index(one) < sent.index(two) for one in sent for two in sent if one[0] == two[0] and one < two):
            yield list(order)


@pytest.mark.parametrize("tell", [pytest.param(tell, id=name) for name, tell in EVERY])
def test_told_entry_by_entry_in_every_order_the_database_says_the_same(db, tell):
    stage = Stage(make_cast())
    told = told_by(tell, stage.cast)
    for number, order in enumerate(orders(told)):
        with transaction.atomic():
            stage.deliver([[one] for one in order])
            check_holdings(world_of(stage.cast), told)
            if number == 0:  # what the answers read does not depend on the order, only what is stored may
                check_database(stage.cast, told)
                check_rebuilding()
            transaction.set_rollback(True)
