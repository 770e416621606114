"""No online act seals over an open block; what a scan sealed over one stands named."""

from __future__ import annotations

import threading
from datetime import timedelta

import pytest
from django.db import close_old_connections, connection

from inventory import ledger
from inventory.ledger import Fact
from inventory.models import Entry, Grade, Verb
from shipping.planning import case_facts, findings_for_case
from shipping.sealing import SealRefusal, break_seal, seal, sealed_with, sealed_with_blocks
from shipping.stowing import StowRefusal, pack, take_out
from shipping.waiving import waive
from tests.factories import ANA, IDA, T0, make_case, make_case_type, make_drive
from tests.shipping.packed import make_heron, put, stand

LATER = T0 + timedelta(hours=1)
EVEN_LATER = T0 + timedelta(hours=2)


def test_a_case_without_a_block_is_sealed_by_its_number(db):
    heron = make_heron()
    seal(heron.box, "004470", by=IDA, at=LATER)
    assert sealed_with(heron.box, EVEN_LATER) == "004470"
    assert case_facts(heron.box, EVEN_LATER).seal == "004470"


def test_a_block_refuses_the_seal_with_the_reason_and_writes_nothing(db):
    heron, curlew = make_heron(), make_heron("CUR-03", name="CURLEW-1")
    put(heron.box, curlew.drives[0], bays="E", at=LATER)
    before = Entry.objects.count()
    with pytest.raises(SealRefusal) as refused:
        seal(heron.box, "004470", by=IDA, at=EVEN_LATER)
    assert "One thing stands in the way of closing it." in str(refused.value)
    assert [one.rule for one in refused.value.findings] == ["one-set-one-box"]
    assert refused.value.findings[0].way_out
    assert Entry.objects.count() == before


def test_a_waiver_lets_the_seal_on_and_falls_when_the_facts_change(db):
    heron = make_heron()
    stand(heron.drives[0], at=LATER)
    block = next(one for one in findings_for_case(heron.box, LATER) if one.blocks)
    waive(block, reason="A is at the maker", by=IDA, at=LATER)
    seal(heron.box, "004470", by=IDA, at=LATER)
    break_seal(heron.box, why="B forgotten", by=IDA, at=EVEN_LATER)
    take_out(heron.drives[1], heron.box, by=IDA, at=EVEN_LATER)
    with pytest.raises(SealRefusal) as refused:
        seal(heron.box, "004471", by=IDA, at=EVEN_LATER)
    assert ["HERON-1 B is missing" in one.sentence for one in refused.value.findings] == [True]


@pytest.mark.parametrize("number,says", [("", "Type the number"), ("9" * 41, "more than 40")])
def test_a_number_that_is_none_is_refused_in_words(db, number, says):
    with pytest.raises(SealRefusal, match=says):
        seal(make_heron().box, number, by=IDA, at=LATER)


def test_a_sealed_case_is_not_sealed_again_nor_packed_into(db):
    heron, other = make_heron(), make_drive("X1")
    seal(heron.box, "004470", by=IDA, at=LATER)
    with pytest.raises(SealRefusal, match="sealed already, with 004470"):
        seal(heron.box, "004471", by=IDA, at=LATER)
    with pytest.raises(StowRefusal, match="Break the seal first"):
        pack([other], heron.box, by=IDA, at=LATER)
    with pytest.raises(StowRefusal, match="Break the seal first"):
        take_out(heron.drives[0], heron.box, by=IDA, at=LATER)


def test_one_seal_number_is_used_once(db):
    seal(make_heron().box, "004470", by=IDA, at=LATER)
    with pytest.raises(SealRefusal, match="was put on HER-03"):
        seal(make_heron("CUR-03", name="CURLEW-1").box, "004470", by=IDA, at=LATER)


def test_breaking_a_seal_keeps_who_why_old_and_new(db):
    heron = make_heron()
    seal(heron.box, "004418", by=IDA, at=LATER)
    entry = break_seal(heron.box, why="customs", by=ANA, at=EVEN_LATER, found="004481", new="004482")
    assert (entry.by, entry.note, entry.before, entry.seal, entry.after) == (
        "Ana Rell", "customs", "004418", "004481", "004482",
    )  # fmt: skip
    assert sealed_with(heron.box, EVEN_LATER) == ""


def test_a_seal_is_broken_for_a_reason_and_only_where_one_was(db):
    heron = make_heron()
    with pytest.raises(SealRefusal, match="has no seal in the book"):
        break_seal(heron.box, why="customs", by=IDA, at=LATER)
    seal(heron.box, "004470", by=IDA, at=LATER)
    with pytest.raises(SealRefusal, match="Say why"):
        break_seal(heron.box, why=" ", by=IDA, at=EVEN_LATER)


def test_a_scan_into_a_sealed_case_opens_it_without_a_word(db):
    heron = make_heron()
    seal(heron.box, "004470", by=IDA, at=LATER)
    put(heron.box, make_drive("X1"), bays="pocket", at=EVEN_LATER)
    assert sealed_with(heron.box, EVEN_LATER) == ""


def test_a_case_that_a_scan_sealed_over_a_block_is_named(db):
    heron, whole = make_heron(), make_heron("CUR-03", name="CURLEW-1")
    stand(heron.drives[0], at=LATER)
    facts = [Fact(Verb.SEALED, case, seal=f"00{case.pk}", grade=Grade.SCAN) for case in (heron.box, whole.box)]
    ledger.record(facts, by=ANA, at=EVEN_LATER)
    named = sealed_with_blocks(EVEN_LATER)
    assert list(named) == [heron.box]
    assert named[heron.box][0].finding.rule == "set-complete"
    waive(named[heron.box][0].finding, reason="A is at the maker", by=IDA, at=EVEN_LATER)
    assert sealed_with_blocks(EVEN_LATER) == {}


def test_packing_checks_the_slot_and_refuses_a_case_inside_itself(db):
    heron = make_heron()
    with pytest.raises(StowRefusal, match="has no slot Z"):
        pack([make_drive("X1")], heron.box, bay="Z", by=IDA, at=LATER)
    with pytest.raises(StowRefusal, match="into itself"):
        pack([heron.box], heron.box, by=IDA, at=LATER)
    trunk = make_case("GEN-01", make_case_type("trunk"))
    pack([heron.box], trunk, by=IDA, at=LATER)
    with pytest.raises(StowRefusal, match="is inside"):
        pack([trunk], heron.box, by=IDA, at=LATER)


def test_what_is_taken_out_lies_where_the_case_is(db):
    heron = make_heron()
    entry = take_out(heron.drives[0], heron.box, by=IDA, at=LATER)
    assert entry.verb == Verb.PULLED and entry.place.name == "Mill Yard"
    with pytest.raises(StowRefusal, match="is not in HER-03"):
        take_out(heron.drives[0], heron.box, by=IDA, at=LATER)


def test_a_clock_that_ran_behind_does_not_seal_before_what_was_packed(db):
    heron = make_heron()
    pack([make_drive("X1")], heron.box, bay="pocket", by=IDA, at=EVEN_LATER)
    seal(heron.box, "004470", by=IDA, at=LATER)
    assert sealed_with(heron.box, EVEN_LATER + timedelta(minutes=1)) == "004470"


def _together(*acts):
    """Run acts at the same moment, each on a connection of its own; return what each said."""
    said: list[object] = [None] * len(acts)
    gate = threading.Barrier(len(acts))

    def run(n, act):
        close_old_connections()
        gate.wait(10)
        try:
            said[n] = act()
        except Exception as refused:  # noqa: BLE001 - what it was is what the test looks at
            said[n] = refused
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=(n, act)) for n, act in enumerate(acts)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)
    return said


@pytest.fixture
def real_threads(transactional_db):
    if connection.vendor == "sqlite":
        pytest.skip("two connections at once need PostgreSQL: the SQLite test database lives in one connection")


def test_of_two_people_sealing_one_case_one_is_told(real_threads):
    heron = make_heron()
    said = _together(
        lambda: seal(heron.box, "004470", by=IDA, at=LATER), lambda: seal(heron.box, "004471", by=ANA, at=LATER)
    )
    assert sorted(type(one).__name__ for one in said) == ["Entry", "SealRefusal"]
    assert Entry.objects.filter(verb=Verb.SEALED).count() == 1


@pytest.mark.parametrize("attempt", range(4))
def test_packing_what_blocks_while_sealing_never_ends_sealed_over_it(real_threads, attempt):
    heron, curlew = make_heron(), make_heron("CUR-03", name="CURLEW-1")
    foreign = curlew.drives[0]
    _together(
        lambda: pack([foreign], heron.box, bay="E", by=ANA, at=LATER), lambda: seal(heron.box, "1", by=IDA, at=LATER)
    )
    at = LATER + timedelta(minutes=1)
    holds, inside = sealed_with(heron.box, at), foreign.pk in {one.id for one in case_facts(heron.box, at).pieces}
    assert bool(holds) is not inside
