"""Releases, holds, copies and the wipe bench: who may, what is refused, and that two people cannot cross."""

from __future__ import annotations

import threading
from datetime import timedelta

import pytest
from django.db import connection, connections

from inventory import bench, copying, doubts, drive_sets, holding, releasing
from inventory.answers.wiping import wipe_answer
from inventory.bench import Method
from inventory.copying import Carrier
from inventory.deciding import Refused
from inventory.ledger import Witness
from inventory.models import ClientReference, Release, Role, Wipe, Withdrawal
from tests.inventory.histories import History
from tests.inventory.test_wipe_table import COPIED, RELEASED, TWO

PURGE = Method("purge", "sanitize command, block erase", "bench station 2")
TOMAS, WES = Witness("Tomas Quill", Role.STAFF), Witness("Wes", Role.STAFF)
IDA, MARA = Witness("Ida", Role.KIT_MANAGER), Witness("Mara", Role.KIT_MANAGER)


@pytest.fixture
def history(db) -> History:
    return History()


def later(history: History, hours: float = 1):
    return history.now + timedelta(hours=hours)


def test_a_wipe_begins_only_when_the_answer_is_yes(history):
    history.tell(COPIED)
    with pytest.raises(Refused, match="nobody has released") as refused:
        bench.begin([history.drives["A"]], PURGE, by=TOMAS, at=later(history))
    assert [reason.word for reason in refused.value.reasons] == ["not released"]
    assert not Wipe.objects.exists()


def test_one_drive_that_is_not_released_stops_the_whole_begin(history):
    history.tell(RELEASED + "1 join B CURLEW-1")
    with pytest.raises(Refused, match="Nothing has begun"):
        bench.begin([history.drives["A"], history.drive("B")], PURGE, by=WES, at=later(history, 20))
    assert not Wipe.objects.exists()


def test_a_set_begins_only_when_every_drive_of_it_was_scanned(history):
    history.tell(TWO)
    with pytest.raises(Refused, match="71B0BK was not scanned; by the book it is in Mill Yard"):
        bench.begin([history.drives["A"]], PURGE, by=WES, at=later(history), drive_set=history.sets["HERON-1"])
    begun = bench.begin(
        [history.drives["A"], history.drives["B"]], PURGE, by=WES, at=later(history), drive_set=history.sets["HERON-1"]
    )
    assert {row.drive.serial for row in begun} == {"71B0AK", "71B0BK"}


def test_who_entered_the_release_does_not_operate_the_wipe(history):
    history.tell(COPIED)
    entered = Witness("Tomas Quill", Role.KIT_MANAGER)
    releasing.release(
        "FMC", [history.drives["A"]], history.person("Jo"), "letter 7", by=entered, at=later(history)
    )  # fmt: skip
    with pytest.raises(Refused, match="Somebody else must operate"):
        bench.begin([history.drives["A"]], PURGE, by=TOMAS, at=later(history, 2))


def test_the_operator_cannot_verify_and_a_second_person_can(history):
    history.tell(RELEASED)
    drive = history.drives["A"]
    begun = bench.begin([drive], PURGE, by=WES, at=later(history))[0]
    with pytest.raises(Refused, match="second person"):
        bench.verify(begun.job, drive, "all read back", by=WES, at=later(history, 2))
    bench.verify(begun.job, drive, "all read back", by=IDA, at=later(history, 3))
    assert wipe_answer(drive, later(history, 4)).reasons[0].word == "nothing on it"


def test_a_wipe_whose_release_was_withdrawn_meanwhile_is_not_verified(history):
    history.tell(RELEASED)
    drive = history.drives["A"]
    begun = bench.begin([drive], PURGE, by=WES, at=later(history))[0]
    releasing.withdraw(Release.objects.get(), "a reshoot", by=IDA, at=later(history, 2))
    with pytest.raises(Refused, match="may not count as wiped"):
        bench.verify(begun.job, drive, "all read back", by=IDA, at=later(history, 3))
    bench.stop(begun.job, drive, "the release was withdrawn", by=WES, at=later(history, 4))
    assert wipe_answer(drive, later(history, 5)).answer == "NO"


def test_a_wipe_ends_once(history):
    history.tell(RELEASED)
    drive = history.drives["A"]
    begun = bench.begin([drive], PURGE, by=WES, at=later(history))[0]
    bench.fail(begun.job, drive, "write error", by=WES, at=later(history, 2))
    with pytest.raises(Refused, match="is over: failed"):
        bench.verify(begun.job, drive, "all read back", by=IDA, at=later(history, 3))


def test_a_suspect_drive_may_be_destroyed_when_every_piece_is_released(history):
    history.tell(RELEASED + "13 fault A")
    drive = history.drives["A"]
    with pytest.raises(Refused, match="Suspect"):
        bench.begin([drive], PURGE, by=WES, at=later(history))
    begun = bench.begin([drive], Method("destroy", "shredded", "press"), by=WES, at=later(history))[0]
    bench.verify(begun.job, drive, "pieces seen", by=IDA, at=later(history, 2))
    assert wipe_answer(drive, later(history, 3)).reasons[0].word == "destroyed"


def test_a_suspect_drive_with_unreleased_content_may_not_even_be_destroyed(history):
    history.tell(COPIED + "13 fault A")
    with pytest.raises(Refused, match="nobody has released"):
        bench.begin([history.drives["A"]], Method("destroy", "shredded", "press"), by=WES, at=later(history))


def test_a_client_releases_only_her_own_shows_and_only_as_herself(history, client_person):
    history.tell(COPIED)
    jo = Witness(client_person.name, Role.CLIENT, user=client_person.user)
    with pytest.raises(Refused, match="Only a kit manager"):
        releasing.release("FMC", [history.drives["A"]], client_person, "signed in", by=jo, at=later(history))
    ClientReference.objects.create(person=client_person, reference="FMC")
    with pytest.raises(Refused, match="Only a kit manager"):
        releasing.release("FMC", [history.drives["A"]], history.person("Jo"), "signed in", by=jo, at=later(history))
    releasing.release("FMC", [history.drives["A"]], client_person, "signed in", by=jo, at=later(history))
    assert Release.objects.get().person == client_person


def test_a_release_needs_serials_evidence_and_a_day_that_has_come(history):
    history.tell(COPIED)
    drive, jo = history.drives["A"], history.person("Jo")
    at = later(history)
    with pytest.raises(Refused, match="at least one drive"):
        releasing.release("FMC", [], jo, "letter", by=IDA, at=at)
    with pytest.raises(Refused, match="how the release came"):
        releasing.release("FMC", [drive], jo, "  ", by=IDA, at=at)
    with pytest.raises(Refused, match="future"):
        releasing.release("FMC", [drive], jo, "letter", by=IDA, at=at, date=at + timedelta(days=1))
    with pytest.raises(Refused, match="no drive"):
        releasing.release("FMC", [history.box], jo, "letter", by=IDA, at=at)


def test_a_mandate_needs_persons_and_a_document_for_fewer_copies(history):
    owner = history.person("Jo").organisation
    with pytest.raises(Refused, match="at least one person"):
        releasing.enter_mandate("FMC", owner, [], "producer", by=IDA, at=history.now)
    fewer = releasing.Promise(copies=0, media=0, elsewhere=0)
    with pytest.raises(Refused, match="owner's document"):
        releasing.enter_mandate("FMC", owner, [history.person("Jo")], "producer", by=IDA, at=history.now, promise=fewer)
    row = releasing.enter_mandate("FMC", owner, [history.person("Jo")], "producer", by=IDA, at=history.now)
    assert releasing.may_release("FMC", history.person("Jo"), history.now)
    assert row.persons.count() == 1


def test_a_hold_is_lifted_by_who_set_it_or_a_kit_manager(history):
    history.tell(RELEASED)
    row = holding.hold("FMC", "insurance claim", by=TOMAS, at=later(history))
    assert wipe_answer(history.drives["A"], later(history, 2)).reasons[0].word == "hold"
    with pytest.raises(Refused, match="Only Tomas Quill or a kit manager"):
        holding.lift(row, "paid", by=WES, at=later(history, 2))
    holding.lift(row, "paid", by=IDA, at=later(history, 3))
    assert wipe_answer(history.drives["A"], later(history, 4)).answer == "YES"


def test_a_hold_on_a_show_reaches_a_drive_found_later_to_hold_it(history):
    history.tell("1 blank A\n2 given A FMC\n3 mandate FMC Jo\n4 copies FMC A\n5 release FMC A")
    holding.hold("FMC", "claim", by=IDA, at=later(history))
    history.tell("8 blank B\n9 given B FMC")
    assert "hold" in [reason.word for reason in history.answer("B").reasons]


def test_a_copy_counts_once_it_is_verified_and_no_more_when_bad(history):
    history.tell(RELEASED.replace("10 copies FMC A\n", "10 copy FMC A tape archive\n"))
    drive = history.drives["A"]
    row = copying.add_copy(
        "FMC", [drive], Carrier("disk", history.places["Quay"]), by=TOMAS, at=later(history)
    )  # fmt: skip
    assert wipe_answer(drive, later(history, 2)).answer == "NO"
    row = copying.verify_copy(row, "checksums", by=TOMAS, at=later(history, 2))
    assert wipe_answer(drive, later(history, 3)).answer == "YES"
    with pytest.raises(Refused, match="what is wrong"):
        copying.report_bad(row, "", by=TOMAS, at=later(history, 3))
    copying.report_bad(row, "does not open", by=TOMAS, at=later(history, 4))
    assert wipe_answer(drive, later(history, 5)).answer == "NO"


def test_a_copy_changed_by_somebody_else_is_looked_at_again(history):
    history.tell(COPIED)
    row = history.copy_rows[-1]
    copying.report_bad(row, "does not open", by=TOMAS, at=later(history))
    with pytest.raises(Refused, match="Look again"):
        copying.verify_copy(row, "checksums", by=WES, at=later(history, 2))


def test_a_doubt_is_accepted_by_a_kit_manager_who_did_not_make_it(history):
    history.tell("1 blank A\n2 join A\n5 record HERON-1 FMC\n7 stop HERON-1\n8 undo recording Ida")
    drive, at = history.drives["A"], later(history)
    doubt = wipe_answer(drive, at).doubts[0]
    with pytest.raises(Refused, match="Only a kit manager"):
        doubts.accept(drive, doubt.digest, "looked", by=TOMAS, at=at)
    with pytest.raises(Refused, match="yourself"):
        doubts.accept(drive, doubt.digest, "looked", by=IDA, at=at)
    doubts.accept(drive, doubt.digest, "looked at the log", by=MARA, at=at)
    assert wipe_answer(drive, later(history, 2)).answer == "YES"


def test_an_acceptance_covers_only_what_stood_then(history):
    history.tell("1 blank A\n3 fit A sister\n5 record - FMC\n7 stop\n9 pull A\n10 accept A Ida")
    assert history.answer("A").answer == "YES"
    history.tell("11 fit A sister\n12 record - FMC\n13 stop\n14 pull A")
    assert history.answer("A").answer == "NOT KNOWN"


def test_a_doubt_that_changed_since_is_not_accepted(history):
    history.tell(COPIED)
    with pytest.raises(Refused, match="no longer stands"):
        doubts.accept(history.drives["A"], "0" * 64, "looked", by=IDA, at=later(history))


def test_only_a_kit_manager_declares_blank_and_says_how(history):
    drive = history.drive("A")
    with pytest.raises(Refused, match="Only a kit manager"):
        drive_sets.declare_blank([drive], "read back", by=TOMAS, at=history.now)
    with pytest.raises(Refused, match="how you know"):
        drive_sets.declare_blank([drive], "", by=IDA, at=history.now)


def test_a_swap_moves_membership_from_that_moment_and_both_drives_hold_the_show(history):
    history.tell("1 blank CD\n2 join C\n3 fit C\n5 record HERON-1 FMC")
    one = drive_sets.Swap(
        history.drives["C"], history.drives["D"], "C", history.places["box"], history.places["frame"], suspect=True
    )
    history.now = later(history)
    drive_sets.swap(one, history.sets["HERON-1"], by=TOMAS, at=history.now)
    history.tell("8 stop HERON-1")
    answer = history.answer("HERON-1")
    assert {one.subject for one in answer.members} == {"drive 71B0CK", "drive 71B0DK"}
    assert {one.drive.serial for one in history.answer("FMC").members} == {"71B0CK", "71B0DK"}
    old = next(one for one in answer.members if one.subject == "drive 71B0CK")
    assert [held.end for held in old.content] == [history.now - timedelta(hours=2)]
    assert "suspect" in [reason.word for reason in old.reasons]


@pytest.mark.django_db(transaction=True)
@pytest.mark.skipif(connection.vendor != "postgresql", reason="one writer at a time: SQLite cannot cross them")
@pytest.mark.parametrize("head_start", ["withdraw", "begin", "none"])
def test_a_withdrawal_and_a_wipe_that_begins_at_once_do_not_cross(head_start):
    history = History().tell(RELEASED)
    drive, row, at = history.drives["A"], Release.objects.get(), later(history)
    gate, outcome = threading.Barrier(2), {}

    def run(name, act):
        try:
            gate.wait(5)
            if head_start not in {"none", name}:
                threading.Event().wait(0.15)
            act()
            outcome[name] = "done"
        except Refused as refused:
            outcome[name] = str(refused)
        finally:
            connections.close_all()

    threads = [
        threading.Thread(target=run, args=("begin", lambda: bench.begin([drive], PURGE, by=WES, at=at))),
        threading.Thread(target=run, args=("withdraw", lambda: releasing.withdraw(row, "reshoot", by=IDA, at=at))),
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(20)
    begun = Wipe.objects.filter(step=Wipe.Step.BEGUN).first()
    withdrawal = Withdrawal.objects.get()
    assert outcome["withdraw"] == "done"
    if begun is None:
        assert "withdrawn" in outcome["begin"]
    else:
        assert begun.entered_at < withdrawal.entered_at
        with pytest.raises(Refused):
            bench.verify(begun.job, drive, "read back", by=IDA, at=later(history, 3))
    assert wipe_answer(drive, later(history, 4)).answer == "NO"


@pytest.mark.django_db(transaction=True)
@pytest.mark.skipif(connection.vendor != "postgresql", reason="one writer at a time: SQLite cannot cross them")
def test_of_two_benches_on_one_drive_one_begins_and_the_other_is_told():
    history = History().tell(RELEASED)
    drive, at, gate = history.drives["A"], later(history), threading.Barrier(2)
    outcome: dict[str, str] = {}

    def run(name: str) -> None:
        try:
            gate.wait(5)
            bench.begin([drive], PURGE, by=Witness(name, Role.CREW), at=at)
            outcome[name] = "begun"
        except Refused as refused:
            outcome[name] = str(refused)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=run, args=(name,)) for name in ("Wes", "Pim")]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(20)
    assert sorted(said == "begun" for said in outcome.values()) == [False, True]
    refused = next(said for said in outcome.values() if said != "begun")
    assert "began a wipe" in refused and "Nothing has begun" in refused
    assert Wipe.objects.count() == 1
