"""Members and content against the naive replay: random acts on drives, sets and frames, delivered in any order.

The edges of the rules are told by hand too, with what they give, so that the replay itself is judged.
"""

from __future__ import annotations

import os
import re
from collections import Counter
from dataclasses import replace
from datetime import datetime, timedelta
from uuid import UUID

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from inventory import ledger
from inventory.answers.content import ContentBook, members
from inventory.answers.drive_loading import book_for
from inventory.answers.drive_rows import LAST_ID, Book, EntryRow, Undoing
from inventory.models import Entry, Label, Role
from tests.factories import T0
from tests.inventory.histories import History
from tests.inventory.replay_content import Content, Said

MORE = int(os.environ.get("STORIES", "1"))
SETS, FRAMES, DRIVES, SHOWS = ("HERON-1", "CURLEW-1"), ("frame", "sister"), "ABC", ("FMC", "CCA", "")
HOSTS = {"HERON-1": "frame", "CURLEW-1": "sister"}
STEPS = [timedelta(minutes=n) for n in (0, 1, 4, 5, 9, 10, 11, 40)]
ACTS = (
    ["joined"] * 4 + ["dropped"] * 2 + ["fitted"] * 4 + ["pulled"] * 2 + ["recording"] * 5 + ["stopped"] * 4
    + ["corrected"]
)  # fmt: skip

# Minutes, act, words. After the arrow, what each recording gave: its drives, with `?` where that is doubtful.
EDGES = {
    "out ten minutes before the start is near": "0 join A HERON-1; 1 drop A HERON-1; 11 record HERON-1 -> A?",
    "out eleven minutes before is not": "0 join A HERON-1; 1 drop A HERON-1; 12 record HERON-1 -> ",
    "in ten minutes after the end is near": "0 record HERON-1; 30 stop HERON-1; 40 join A HERON-1 -> A?",
    "in eleven minutes after is not": "0 record HERON-1; 30 stop HERON-1; 41 join A HERON-1 -> ",
    "pulled ten minutes before": "0 fit A frame; 1 pull A; 11 record HERON-1 -> A?",
    "pulled eleven minutes before": "0 fit A frame; 1 pull A; 12 record HERON-1 -> ",
    "near only counts where nothing is sure": "0 join A HERON-1; 5 record HERON-1; 9 stop HERON-1 -> A",
    "in at the start, out at once": "0 join A HERON-1; 5 record HERON-1; 5 drop A HERON-1; 50 stop HERON-1 -> A",
    "out and in again meanwhile": "0 record HERON-1; 20 join A HERON-1; 21 drop A HERON-1; 60 stop HERON-1 -> A",
    "an unnamed stop ends the newest": (
        "0 record HERON-1; 5 record CURLEW-1; 6 stop; 20 join A HERON-1; 20 join B CURLEW-1 -> A; "
    ),
    "an unnamed stop, twice, ends both": (
        "0 record HERON-1; 5 record CURLEW-1; 6 stop; 7 stop; 20 join A HERON-1; 20 join B CURLEW-1 -> ; "
    ),
    "an unnamed stop of one show ends that show's": (
        "0 record HERON-1 FMC; 5 record CURLEW-1 CCA; 6 stop - FMC; 20 join A HERON-1; 20 join B CURLEW-1 -> ; B"
    ),
    "an unnamed stop of no show that runs ends none": (
        "0 record HERON-1 FMC; 6 stop - CCA; 20 join A HERON-1 -> A"
    ),
    "a stop of another set ends nothing": "0 record HERON-1; 6 stop CURLEW-1; 20 join A HERON-1 -> A",
    "a stop of the frame does not end the set's": "0 record HERON-1; 6 stop frame; 20 join A HERON-1 -> A",
    "a stop of the frame ends the frame's": "0 record frame; 6 stop frame; 20 fit A frame -> ",
    "joined twice is a member since the first": (
        "0 join A HERON-1; 5 record HERON-1; 9 stop HERON-1; 30 join A HERON-1 -> A"
    ),
    "a stop that was taken back": "0 record HERON-1; 6 stop HERON-1; 7 undo; 20 join A HERON-1 -> A",
    "one stop ends two recordings of its set": (
        "0 record HERON-1 FMC; 5 record HERON-1 CCA; 6 stop HERON-1; 20 join A HERON-1 -> ; "
    ),
    "a recording of nothing named is on all, perhaps": "0 join A HERON-1; 1 fit B sister; 2 record -> AB?",
    "of a frame alone also on the sets at home there": "0 join A HERON-1; 1 join B CURLEW-1; 2 record frame -> A",
    "of a set also on strangers in its frame": "0 fit B frame; 2 record HERON-1 -> B",
    "of a set also where a member is": "0 join A HERON-1; 1 fit A sister; 2 fit B sister; 3 record HERON-1 -> AB",
    "not where a member was before": (
        "0 join A HERON-1; 1 fit A sister; 2 pull A; 3 fit B sister; 30 record HERON-1 -> A"
    ),
}  # fmt: skip
VERBS = {
    "join": "joined", "drop": "dropped", "fit": "fitted", "pull": "pulled", "record": "recording", "stop": "stopped",
    "undo": "corrected",
}  # fmt: skip


def spoken(lines: str) -> list[Said]:
    told: list[Said] = []
    for line in lines.split(";"):
        minute, act, *words = line.split()
        drive, within, frame, show = (
            next((one for one in words if one in known), "") for known in (DRIVES, SETS, FRAMES, SHOWS)
        )
        undone = told[-1].id if act == "undo" else None
        when = T0 + timedelta(minutes=int(minute))
        told.append(Said(UUID(int=len(told) + 1), VERBS[act], when, drive, within, frame, show, undone))
    return told


def expected(words: str, told: list[Said]) -> list[tuple[str, UUID, bool]]:
    recordings = [one.id for one in told if one.verb == "recording"]
    parts = [part.strip() for part in words.split(";")]
    return sorted(
        (drive, source, not part.endswith("?"))
        for source, part in zip(recordings, parts, strict=True)
        for drive in re.findall("[A-C]", part)
    )


@pytest.mark.parametrize("name", EDGES)
def test_the_replay_says_of_an_edge_what_a_person_says(name):
    story, _, words = EDGES[name].rpartition("->")
    told = spoken(story)
    assert sorted(Content(told, HOSTS, told[-1].at).holds()) == expected(words, told)


@st.composite
def stories(draw) -> list[Said]:
    told: list[Said] = []
    now = T0
    for verb in draw(st.lists(st.sampled_from(ACTS), min_size=8, max_size=18)):
        now += draw(st.sampled_from(STEPS))
        told.append(Said(UUID(int=len(told) + 1), verb, now, **_words(draw, verb, told)))
    return told


def _words(draw, verb: str, told: list[Said]) -> dict[str, object]:
    if verb == "corrected":
        return {"corrects": draw(st.sampled_from([one.id for one in told] or [UUID(int=999)]))}
    if verb in ("recording", "stopped"):
        unnamed = [{}] * (5 if verb == "stopped" else 1)
        subject = draw(
            st.sampled_from([{"set": one} for one in SETS] * 2 + [{"frame": one} for one in FRAMES] + unnamed)
        )
        return {**subject, "reference": draw(st.sampled_from([*SHOWS, ""]))}
    words = {"drive": draw(st.sampled_from(DRIVES))}
    return words | (
        {"set": draw(st.sampled_from(SETS))}
        if verb in ("joined", "dropped")
        else {"frame": draw(st.sampled_from(FRAMES))}
        if verb == "fitted"
        else {}
    )


class World:
    """Three drives, two sets and their frames in the database, and the words for them."""

    def __init__(self) -> None:
        self.history = History()
        for letter in DRIVES:
            self.history.drive(letter)
        self.labels = dict(Label.objects.values_list("item", "pk"))
        self.letters = {drive.pk: letter for letter, drive in self.history.drives.items()}
        self.empty = self._whole_book()

    def _whole_book(self) -> Book:
        """A book in which every place and frame of the world is known, without entries of a story."""
        with transaction.atomic():
            story = spoken("0 fit A frame; 1 fit A sister; 2 pull A; 3 record frame; 3 record sister")
            self.deliver(story)
            found = book_for(drives=self.letters)
            transaction.set_rollback(True)
        return replace(found, entries=tuple(row for row in found.entries if row.time < T0))

    def deliver(self, told: list[Said]) -> None:
        ledger.append([self.entry(one) for one in told], T0 + timedelta(days=30))

    def thing(self, one: Said):
        if one.verb in ("recording", "stopped"):
            return self.history.frames.get(one.frame)
        return self.history.drives.get(one.drive)

    def place(self, one: Said):
        return {"fitted": self.history.places.get(one.frame), "pulled": self.history.places["Mill"]}.get(one.verb)

    def entry(self, one: Said) -> Entry:
        thing = self.thing(one)
        return Entry(
            id=one.id, act=one.id, verb=one.verb, label_id=self.labels.get(thing.pk) if thing else None,
            place=self.place(one), drive_set=self.history.sets.get(one.set), reference=one.reference, grade="tick",
            happened_at=one.at, by="Ida", role=Role.KIT_MANAGER, corrects=one.corrects,
            bay="A" if one.verb in ("joined", "fitted") else "",
        )  # fmt: skip

    def book(self, told: list[Said]) -> Book:
        """What the database would give for a story, without asking it."""
        undone = {one.corrects: Undoing(one.id, "Ida") for one in told if one.corrects}
        rows = [self.row(one, undone.get(one.id)) for one in told if not one.corrects]
        entries = tuple(sorted([*self.empty.entries, *rows], key=lambda row: row.key))
        return replace(self.empty, entries=entries)

    def row(self, one: Said, undone: Undoing | None) -> EntryRow:
        thing, place, within = self.thing(one), self.place(one), self.history.sets.get(one.set)
        return EntryRow(
            one.id, one.id, one.verb, one.at, one.at, "Ida", Role.KIT_MANAGER, item=thing.pk if thing else None,
            place=place.pk if place else None, bay="A" if one.verb in ("joined", "fitted") else "",
            drive_set=within.pk if within else None, reference=one.reference, undone=(undone,) if undone else (),
        )  # fmt: skip

    def told_of(self, book: Book, at: datetime) -> tuple[dict[str, set[str]], list[tuple[str, UUID, bool]], bool]:
        """Members by set, content as the replay words it, and whether anything still records."""
        content = ContentBook(book, at)
        pieces = [piece for pk in self.letters for piece in content.of(pk) if "corrected" not in piece.marks]
        within = {
            name: {self.letters[pk] for pk in members(content.scene, self.history.sets[name].pk, (at, LAST_ID))}
            for name in SETS
        }
        holds = {(self.letters[piece.drive], UUID(piece.source), piece.is_sure) for piece in pieces}
        return within, sorted(holds), any(piece.is_open for piece in pieces)


@pytest.fixture
def world(db) -> World:
    return World()


def check(world: World, book: Book, told: list[Said], at: datetime) -> Counter[str]:
    naive = Content(told, HOSTS, at)
    within, holds, goes_on = world.told_of(book, at)
    assert within == {name: naive.members(name) for name in SETS}
    assert holds == sorted(set(naive.holds()))
    sure = {row[2] for row in holds}
    return Counter({"sure": True in sure, "doubtful": False in sure, "still recording": goes_on})


def moments(told: list[Said]) -> list[datetime]:
    return [told[len(told) // 2].at, told[-1].at, told[-1].at + timedelta(hours=5)]


def test_an_edge_told_by_hand_gives_what_a_person_says(world):
    for name, text in EDGES.items():
        story, _, words = text.rpartition("->")
        told = spoken(story)
        assert world.told_of(world.book(told), told[-1].at)[1] == expected(words, told), name


@settings(
    max_examples=40 * MORE, deadline=None, database=None, derandomize=MORE == 1,
    suppress_health_check=list(HealthCheck),
)  # fmt: skip
@given(told=stories(), order=st.randoms(use_true_random=False))
def in_any_order(world: World, shares: Counter[str], told, order) -> None:
    delivered = list(told)
    order.shuffle(delivered)
    with transaction.atomic():
        for batch in (delivered[::2], delivered[1::2]):
            world.deliver(batch)
        book = book_for(drives=world.letters)
        transaction.set_rollback(True)
    for at in moments(told):
        shares.update(check(world, book, told, at))
    shares["stories"] += 1
    shares["something was taken back"] += any(one.corrects for one in told)


def test_members_and_content_are_what_the_naive_replay_says_in_any_order(world):
    shares: Counter[str] = Counter()
    in_any_order(world, shares)
    print(dict(shares))  # noqa: T201
    for name in ("sure", "doubtful", "still recording", "something was taken back"):
        assert shares[name] > shares["stories"] / 10, f"{name}: the stories would prove little"


@settings(
    max_examples=300 * MORE, deadline=None, database=None, derandomize=MORE == 1,
    suppress_health_check=list(HealthCheck),
)  # fmt: skip
@given(told=stories())
def without_the_database(world: World, shares: Counter[str], told) -> None:
    book = world.book(told)
    for at in moments(told):
        shares.update(check(world, book, told, at))
    shares["stories"] += 1
    shares.update(reaches(Content(told, HOSTS, told[-1].at)))


def reaches(naive: Content) -> Counter[str]:
    """Which edges of the rules a story comes to: the margin to the minute, and a stop that has to choose."""
    ran = naive.recordings()
    ends = {one.said.at for one in ran} | {naive.live[one.end].at for one in ran if one.end is not None}
    apart = {abs(moment - one.at) for moment in ends for one in naive.live if one.drive}
    chooses = any(
        not (stop.set or stop.frame) and len([one for one in ran if _goes_on(one, number)]) > 1
        for number, stop in enumerate(naive.live)
        if stop.verb == "stopped"
    )
    return Counter(
        {
            "ten minutes": timedelta(minutes=10) in apart,
            "eleven minutes": timedelta(minutes=11) in apart,
            "a stop that chooses": chooses,
        }
    )


def _goes_on(ran, number: int) -> bool:
    return ran.first < number and (ran.end is None or ran.end >= number)


def test_content_is_what_the_naive_replay_says_at_the_edges_too(world):
    shares: Counter[str] = Counter()
    without_the_database(world, shares)
    print(dict(shares))  # noqa: T201
    for name in ("sure", "doubtful", "still recording", "ten minutes", "eleven minutes", "a stop that chooses"):
        assert shares[name] > shares["stories"] / 20, f"{name}: the stories would prove little"
