"""A thing with a long history is answered from its newest entries, and the answer is that of all of them."""

from __future__ import annotations

from collections import Counter
from datetime import timedelta

import pytest
from django.db import transaction
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory import ledger
from inventory.answers import latest, loading
from inventory.answers.contents import contents
from inventory.answers.whereabouts import whereabouts_of
from inventory.ledger import Fact
from inventory.models import Device, Grade, Place, Verb
from tests.factories import IDA, T0, make_case, make_case_type, make_drive, make_item, make_place, make_type
from tests.inventory.staging import STORED, Stage, calm, make_cast, moments, print_shares
from tests.inventory.stories import stories

MINUTE = timedelta(minutes=1)
LATER = T0 + 1000 * MINUTE
EVERYTHING = 10**6
# Told as far back as was read, so they may differ by how far that is.
AS_FAR_BACK = {"opened untold", "sealed, yet told"}


@pytest.fixture
def case(db):
    return make_case("HER-03", make_case_type("Drive box", slots="A B C", for_drives=True))


def do(minutes, verb, thing, where=None, **over):
    at = T0 + minutes * MINUTE
    over = {"grade": Grade.SCAN, **over}
    fact = Fact(verb, thing, place=getattr(where, "inside", where), happened_at=at, **over)
    return ledger.record([fact], by=IDA, at=at)[0]


def rows_read(items) -> dict[int, int]:
    book, _ = loading.book_of([item.pk for item in items], LATER)
    return {item.pk: len(book.rows[item.pk]) for item in items}


def test_of_a_long_history_the_newest_entries_are_read(case):
    drive = make_drive("71B01K", home_case=case)
    for trip in range(60):
        do(10 * trip, Verb.PACKED, drive, case, bay="A")
        do(10 * trip + 1, Verb.SEALED, case, seal=f"{trip:06}")
        do(10 * trip + 2, Verb.PLACED, case, make_place("Mill Yard"))
        do(10 * trip + 3, Verb.SEAL_BROKEN, case)
    read = rows_read([drive, case])
    assert read[drive.pk] <= latest.STEPS[-1] + 1 and read[case.pk] <= latest.STEPS[-1] + 3


# Each is something old that still counts: the newest entries alone would leave it out.


def a_bay_named_long_ago(case):
    drive = make_drive("71B01K", home_case=case)
    do(0, Verb.FITTED, drive, case, bay="B")
    for n in range(40):
        do(1 + n, Verb.SEEN, drive)
        do(1 + n, Verb.PACKED, drive, case)
    return drive, lambda link: link.bay == "B"


def a_dispute_that_repeats_do_not_end(case):
    drive, other = make_drive("71B01K", home_case=case), make_case("HER-04", case.type)
    ana, pim = (Device.objects.create(name=n, token_hash=n.ljust(64, "x"), joined_at=T0) for n in ("Ana", "Pim"))
    by = [ledger.Witness(one.name, device=one) for one in (ana, pim)]
    ledger.record([Fact(Verb.PACKED, drive, place=other.inside, happened_at=T0)], by=by[0], at=T0)
    for n in range(40):
        at = T0 + (n + 1) * MINUTE
        ledger.record([Fact(Verb.PACKED, drive, place=case.inside, happened_at=at)], by=by[1], at=at)
    return drive, lambda link: link.strength == "in dispute"


def a_placing_long_before_many_words(case):
    drive = make_drive("71B01K", home_case=case)
    do(0, Verb.PACKED, drive, case, bay="C")
    for n in range(40):
        do(1 + n, Verb.SEEN, drive, grade=Grade.SAID)
    return drive, lambda link: link.place.name == "HER-03" and link.evidence is not None


def a_sight_long_before_the_case_was_opened(case):
    drive, other = make_drive("71B01K", home_case=case), make_drive("71B02K", home_case=case)
    do(0, Verb.PACKED, drive, case)
    do(0, Verb.PACKED, other, case)
    for n in range(0, 120, 3):
        do(1 + n, Verb.SEALED, case, seal=f"{n:06}")
        do(2 + n, Verb.SEAL_BROKEN, case)
        do(3 + n, Verb.SEEN, other)
    return drive, lambda link: link.strength == "was in here"


OLD = [
    a_bay_named_long_ago, a_dispute_that_repeats_do_not_end, a_placing_long_before_many_words,
    a_sight_long_before_the_case_was_opened,
]  # fmt: skip


@pytest.mark.parametrize("tell", OLD)
def test_what_is_old_and_still_counts_is_read(case, tell):
    drive, holds = tell(case)
    assert holds(whereabouts_of([drive.pk], LATER)[drive.pk].links[0])


def test_a_lots_count_of_long_ago_is_read(case):
    lot = make_item(make_type("Cord 2 m", is_lot=True), quantity=20, home_case=case)
    do(0, Verb.COUNTED, lot, quantity=17)
    for n in range(40):
        do(1 + n, Verb.PACKED, lot, case)
    found = [reason.sentence for reason in contents(case.inside, LATER).reasons if reason.word == "count differs"]
    assert found and "17 counted" in found[0]


def test_what_cannot_be_is_found_however_old(case):
    drive, brick = make_drive("71B01K", home_case=case), make_item(number="BRICK")
    inside = Place.objects.create(name="inside BRICK", kind="inside", item=brick)
    do(0, Verb.PLACED, drive, inside)
    for n in range(40):
        do(1 + n, Verb.PACKED, drive, case)
    assert "cannot be" in {reason.word for reason in contents(case.inside, LATER).reasons}


def test_however_few_are_read_at_first_the_answers_are_those_of_everything(db, monkeypatch):
    stage, shares = Stage(make_cast()), Counter()

    def told_of(at, most):
        monkeypatch.setattr(latest, "STEPS", most)
        monkeypatch.setattr(latest, "BEFORE", most[-1])
        cast = stage.cast
        items = [*cast.drives, *cast.boxes, cast.frame, cast.trunk, *cast.vans, cast.lot, cast.plain]
        held = [contents(Place.objects.get(pk=cast.inside[one]), at) for one in (*cast.boxes, cast.frame, *cast.vans)]
        reasons = [{reason for reason in one.reasons if reason.word not in AS_FAR_BACK} for one in held]
        read = loading.book_of(items, at)[0].rows
        return whereabouts_of(items, at), [one.lines for one in held], reasons, sum(map(len, read.values()))

    @settings(max_examples=STORED, **calm)
    @given(stories(stage.cast, most=26), st.sampled_from([(0,), (1,), (2,), (3,), (0, 2), (1, 3)]))
    def run(told, most):
        with transaction.atomic():
            stage.deliver([told])
            for at in moments(told):
                *brief, few = told_of(at, most)
                *full, all_of_them = told_of(at, (EVERYTHING,))
                assert brief == full
                shares["stories"] += 1
                shares["read less"] += few < all_of_them
            transaction.set_rollback(True)

    run()
    print_shares("read from the newest back", shares)
    assert shares["read less"] > 0
