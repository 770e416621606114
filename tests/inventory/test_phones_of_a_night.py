"""Several phones with bad clocks and bad networks against the naive replay, through the real uploads.

What every upload is for: a scan that the server acknowledged is in the ledger once, as its maker stamped it or as it
was received if the stamp lies in the future, whoever carried it and however often it came; and what the book answers
is what sorting all of them by time and id gives.
"""

from __future__ import annotations

from collections import Counter
from datetime import timedelta
from uuid import UUID

import pytest
import time_machine
from django.db import connection, transaction
from hypothesis import given, settings

from inventory import accepting
from inventory.answers.whereabouts import whereabouts_of
from inventory.models import Device, Entry, Holding, Item, Label, Place, ScanReceipt
from tests.factories import IDA, make_device, make_pass
from tests.inventory.phones import Night, Phone, nights
from tests.inventory.replay import Replay
from tests.inventory.staging import STORED, calm, make_cast, moments, plain, print_shares, world_of
from tests.inventory.uploading import send

NAMES = ("Ana Rell", "Pim Osgood", "Wes Tarn")
# A night without these would prove little; each must have happened in some of them.
WANTED = (
    "hand-overs", "answers lost", "clocks set anew", "clocks reset to 1970", "clocks frozen", "held, then accepted",
    "stamps from the future", "corrections before targets", "disputes", "doubtful clocks",
)  # fmt: skip


@pytest.fixture
def cast(db):
    made = make_cast()
    Device.objects.all().delete()  # these phones join by a pass of their own
    return made


@pytest.fixture
def night(cast):
    """What makes one night: three phones of one pass, and how the cast is called on labels."""
    day_pass = make_pass("FJELL")
    devices = [make_device(name, day_pass=day_pass) for name in NAMES]
    codes = dict(Label.objects.values_list("item", "code"))
    places = {place.pk: f"place:{place.pk}" for place in Place.objects.all()}

    def make(draw) -> Night:
        phones = [Phone(one.pk, one.name, number, timedelta(0)) for number, one in enumerate(devices)]
        made = Night(phones, codes, places, cast, draw)
        for phone in phones:
            made.set_clock(phone)
        made.seen.clear()
        return made

    return make


def play(night: Night) -> None:
    """Every upload through the API, at its own moment. Each scan in it gets an answer, and never another one."""
    words: dict[str, str] = {}
    for phone, bodies, at in night.sent:
        with time_machine.travel(at, tick=False):
            answer = send(bodies, phone.token)
        assert answer.status_code == 200, answer.content
        for told in answer.json()["scans"]:
            assert told["receipt"] in {"stored", "already stored", "held"}, told
            words.setdefault(told["id"], told["sentence"])
            assert told["sentence"] == words[told["id"]], "a repeat was told something else"
    assert set(words) == {body["id"] for body in night.made}


def accept_what_was_held(night: Night) -> int:
    """The kit manager takes in all that the pass's days did not cover: it counts at its own moment."""
    rows = accepting.waiting()
    for row in rows:
        accepting.accept(row, by=IDA, at=night.now + timedelta(hours=1))
        night.first[row.entry_id] = night.now + timedelta(hours=1)
    return len(rows)


def check_ledger(night: Night) -> None:
    kept = {one.pk: one for one in Entry.objects.all()}
    assert set(kept) == {UUID(body["id"]) for body in night.made}, "lost, or made up"
    for key, entry in kept.items():
        assert entry.happened_at == night.accepted_at(key)
        assert entry.device_id == night.maker[key].id and entry.by == night.maker[key].token
    assert ScanReceipt.objects.count() == len(kept)


def check_answers(night: Night, cast) -> Replay:
    told, world = night.as_told(), world_of(cast)
    names = {place.pk: str(place.item) if place.item else place.name for place in Place.objects.select_related("item")}
    for at in moments(told):
        replay = Replay(world, told, at)
        for item, found in whereabouts_of(list(world.kinds), at).items():
            assert plain(found.links, names) == replay.chain(item), Item.objects.get(pk=item)
    last = Replay(world, told, max(one.at for one in told))
    held = {row.pk: (row.place_id, row.bay, row.entry_id) for row in Holding.objects.all()}
    for item in world.kinds:
        assert held.get(item, (None, "", None)) == last.stored(item)
    return last


def tally(shares: Counter[str], night: Night, last: Replay, accepted: int) -> None:
    shares["stories"] += 1
    shares.update(night.seen)
    shares["held, then accepted"] += accepted > 0
    told = night.as_told()
    stamps = {body["id"]: body["happened_at"] for body in night.made}
    shares["stamps from the future"] += any(one.at.isoformat() < stamps[str(one.id)] for one in told)
    shares["disputes"] += any(last.dispute(item) for item in last.world.kinds)
    shares["doubtful clocks"] += any(last.doubt(one.id) is not None for one in told)
    first = night.first
    known = {one.id for one in told}
    shares["corrections before targets"] += any(
        one.corrects in known and first[one.id] < first[one.corrects] for one in told if one.corrects
    )


def test_phones_with_bad_clocks_and_networks_give_what_the_replay_gives(cast, night):
    shares: Counter[str] = Counter()

    @settings(max_examples=STORED, **calm)
    @given(nights(night, most=40))
    def run(found: Night):
        if not found.made:
            return
        with transaction.atomic():
            play(found)
            accepted = accept_what_was_held(found)
            check_ledger(found)
            tally(shares, found, check_answers(found, cast), accepted)
            transaction.set_rollback(True)

    run()
    print_shares(f"phones on {connection.vendor}", shares)
    for name in WANTED:
        assert shares[name] > 0, name
