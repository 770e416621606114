"""Members and content against the naive replay: random acts on drives, sets and frames, delivered in any order."""

from __future__ import annotations

import os
from collections import Counter
from datetime import timedelta
from uuid import UUID

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from inventory import ledger
from inventory.answers.content import ContentBook, members
from inventory.answers.drive_loading import book_for
from inventory.answers.drive_rows import LAST_ID
from inventory.models import Entry, Label, Role
from tests.factories import T0
from tests.inventory.histories import History
from tests.inventory.replay_content import Content, Said

MORE = int(os.environ.get("STORIES", "1"))
SETS, FRAMES, DRIVES, SHOWS = ("HERON-1", "CURLEW-1"), ("frame", "sister"), "ABC", ("FMC", "CCA", "")
HOSTS = {"HERON-1": "frame", "CURLEW-1": "sister"}
STEPS = [timedelta(minutes=n) for n in (1, 4, 9, 11, 40)]
ACTS = (
    ["joined"] * 4 + ["dropped"] * 2 + ["fitted"] * 4 + ["pulled"] * 2 + ["recording"] * 4 + ["stopped"] * 3
    + ["corrected"] * 2
)  # fmt: skip


@st.composite
def stories(draw) -> list[Said]:
    told: list[Said] = []
    now = T0
    for verb in draw(st.lists(st.sampled_from(ACTS), min_size=6, max_size=18)):
        now += draw(st.sampled_from(STEPS))
        told.append(Said(UUID(int=len(told) + 1), verb, now, **_words(draw, verb, told)))
    return told


def _words(draw, verb: str, told: list[Said]) -> dict[str, object]:
    if verb == "corrected":
        return {"corrects": draw(st.sampled_from([one.id for one in told] or [UUID(int=999)]))}
    if verb in ("recording", "stopped"):
        subject = draw(st.sampled_from([{"set": one} for one in SETS] * 2 + [{"frame": one} for one in FRAMES] + [{}]))
        return {**subject, "reference": draw(st.sampled_from(SHOWS))}
    words = {"drive": draw(st.sampled_from(DRIVES))}
    return words | (
        {"set": draw(st.sampled_from(SETS))}
        if verb in ("joined", "dropped")
        else {"frame": draw(st.sampled_from(FRAMES))}
        if verb == "fitted"
        else {}
    )


def entry(history: History, one: Said, labels: dict[int, int]) -> Entry:
    thing = history.drives.get(one.drive)
    if one.verb in ("recording", "stopped"):
        thing = history.frames.get(one.frame)
    place = {"fitted": history.places.get(one.frame), "pulled": history.places["Mill"]}.get(one.verb)
    return Entry(
        id=one.id, act=one.id, verb=one.verb, label_id=labels.get(thing.pk) if thing else None, place=place,
        drive_set=history.sets.get(one.set), reference=one.reference, grade="tick", happened_at=one.at, by="Ida",
        role=Role.KIT_MANAGER, corrects=one.corrects, bay="A" if one.verb in ("joined", "fitted") else "",
    )  # fmt: skip


def check(history: History, told: list[Said], at) -> Counter[str]:
    naive = Content(told, HOSTS, at)
    letters = {drive.pk: letter for letter, drive in history.drives.items()}
    content = ContentBook(book_for(drives=letters), at)
    for name in SETS:
        found = members(content.scene, history.sets[name].pk, (at, LAST_ID))
        assert {letters[pk] for pk in found} == naive.members(name, at)
    pieces = [piece for pk in letters for piece in content.of(pk) if "corrected" not in piece.marks]
    sure = {(letters[p.drive], UUID(p.source)) for p in pieces if p.is_sure}
    doubtful = {(letters[p.drive], UUID(p.source)) for p in pieces if not p.is_sure}
    expected = list(naive.holds())
    assert sure == {(drive, source) for drive, source, is_sure in expected if is_sure}
    assert doubtful == {(drive, source) for drive, source, is_sure in expected if not is_sure}
    return Counter({"sure": bool(sure), "doubtful": bool(doubtful), "still recording": any(p.is_open for p in pieces)})


@pytest.mark.django_db
def test_members_and_content_are_what_the_naive_replay_says_in_any_order():
    history = History()
    for letter in DRIVES:
        history.drive(letter)
    labels = dict(Label.objects.values_list("item", "pk"))
    shares: Counter[str] = Counter()

    @settings(
        max_examples=40 * MORE, deadline=None, database=None, derandomize=MORE == 1,
        suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    @given(stories(), st.randoms(use_true_random=False))
    def run(told, order):
        with transaction.atomic():
            delivered = list(told)
            order.shuffle(delivered)
            for batch in (delivered[::2], delivered[1::2]):
                ledger.append([entry(history, one, labels) for one in batch], told[-1].at + timedelta(days=30))
            for at in (told[len(told) // 2].at, told[-1].at, told[-1].at + timedelta(hours=5)):
                shares.update(check(history, told, at))
            transaction.set_rollback(True)
        shares["stories"] += 1
        shares["something was taken back"] += any(one.corrects for one in told)

    run()
    print(dict(shares))  # noqa: T201
    for name in ("sure", "doubtful", "still recording", "something was taken back"):
        assert shares[name] > shares["stories"] / 10, f"{name}: the stories would prove little"
