"""Every act on drives in any order, through the same functions as the screens, against a pencilled page.

One kit manager, Ida, makes every correction and every look, so that no second person ever stands behind one. Then
only a release by Jo, who may, can free a drive on which something was recorded. STORIES=20 tries twenty times as many.
"""

from __future__ import annotations

import os
from collections import Counter
from datetime import timedelta

import pytest
from django.db import connection, transaction
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from inventory import bench, copying, doubts, drive_sets, hands, holding, ledger, releasing
from inventory.answers.custody import HEALTH
from inventory.answers.drive_loading import book_for
from inventory.answers.wiping import WORST, answer_drive, answer_set, drives_of_set, open_book, wipe_answer
from inventory.bench import Method
from inventory.copying import Carrier
from inventory.deciding import Refused
from inventory.drive_sets import Swap, When
from inventory.ledger import LedgerRefusal, Witness
from inventory.models import Entry, Hold, Release, Role, Verb, Wipe
from tests.inventory.histories import History

IDA, ANA, WES = Witness("Ida", Role.KIT_MANAGER), Witness("Ana", Role.ROAD_LEAD), Witness("Wes", Role.CREW)
MORE = int(os.environ.get("STORIES", "1"))
SHARES: Counter[str] = Counter()
LETTERS = st.sampled_from("ABC")
CONTENT_VERBS = (Verb.RECORDING, Verb.STOPPED, Verb.JOINED, Verb.DROPPED, Verb.FITTED, Verb.PULLED)
# None of these raises a doubt that a correction would leave standing (P13).
TAKEN_BACK = (Verb.PLACED, Verb.SEEN, Verb.CHECKED, Verb.SERIAL_READ, Verb.DECLARED_BLANK)
FREE = (Verb.HANDED_OVER, Verb.RECEIVED, Verb.DECLARED_BLANK, Verb.CHECKED, Verb.FAULTED, Verb.MISSED, Verb.FOREIGN)


class Drives(RuleBasedStateMachine):
    """Set HERON-1, drives A and B known blank, C never said; the page keeps what each must still hold."""

    @initialize()
    def begin(self) -> None:
        self.atomic = transaction.atomic()
        self.atomic.__enter__()
        self.book = History().tell("1 blank AB\n1 join AB\n2 mandate FMC Jo\n2 new C")
        self.at = self.book.now
        self.held: set[str] = set()
        self.members, self.recording = {"A", "B"}, False

    def teardown(self) -> None:
        if hasattr(self, "atomic"):
            transaction.set_rollback(True)
            self.atomic.__exit__(None, None, None)

    def do(self, act, *args, by=ANA, **more):  # noqa: ANN001, ANN003, ANN201
        """One act an hour later; refused is refused, and changes nothing."""
        self.at += timedelta(hours=1)
        try:
            with transaction.atomic():
                return act(*args, by=by, at=self.at, **more)
        except (Refused, LedgerRefusal):
            SHARES["an act was refused"] += 1
            return None

    def drive(self, letter: str):  # noqa: ANN201
        return self.book.drives[letter]

    @property
    def one(self):  # noqa: ANN201
        return self.book.sets["HERON-1"]

    def note(self) -> None:
        if self.recording:
            self.held |= self.members

    @rule()
    def record(self) -> None:
        self.do(drive_sets.start_recording, self.one, when=When("FMC"))
        self.recording = True
        self.note()

    @rule()
    def stop(self) -> None:
        self.do(drive_sets.stop_recording, self.one)
        self.recording = False

    @rule(letter=LETTERS)
    def join(self, letter: str) -> None:
        self.do(drive_sets.join, self.drive(letter), self.one, letter)
        self.members.add(letter)
        self.note()

    @rule(letter=LETTERS)
    def drop(self, letter: str) -> None:
        self.do(drive_sets.drop, self.drive(letter), self.one)
        self.members.discard(letter)

    @rule(letter=LETTERS)
    def fit(self, letter: str) -> None:
        self.do(drive_sets.fit, self.drive(letter), self.book.frames["frame"], letter)

    @rule(letter=LETTERS)
    def pull(self, letter: str) -> None:
        self.do(drive_sets.pull, self.drive(letter), self.book.places["Mill"])

    @rule(out=LETTERS, into=LETTERS, suspect=st.booleans())
    def swap(self, out: str, into: str, suspect: bool) -> None:
        swap = Swap(self.drive(out), self.drive(into), into, self.book.places["box"], suspect=suspect)
        if self.do(drive_sets.swap, swap, self.one) is not None:
            self.members = (self.members - {out}) | {into}
            self.note()

    @rule(letter=LETTERS)
    def blank(self, letter: str) -> None:
        if letter != "C":
            self.do(drive_sets.declare_blank, [self.drive(letter)], "read back empty", by=IDA)

    @rule(letter=LETTERS, name=st.sampled_from(["Jo", "Ana", "Wes"]))
    def hand_over(self, letter: str, name: str) -> None:
        self.do(hands.hand_over, [self.drive(letter)], self.book.person(name), giver=self.book.person("Ana"))

    @rule(letter=LETTERS, name=st.sampled_from(["Jo", "Ana", "Wes"]))
    def receive(self, letter: str, name: str) -> None:
        self.do(hands.receive, [self.drive(letter)], self.book.places["Mill"], self.book.person(name))

    @rule(letter=LETTERS)
    def copies(self, letter: str) -> None:
        for medium, place in (("tape", "archive"), ("disk", "Quay")):
            row = self.do(
                copying.add_copy, "FMC", [self.drive(letter)], Carrier(medium, self.book.places[place]), by=IDA
            )
            if row is not None:
                self.do(copying.verify_copy, row, "checksums compared", by=IDA)

    @rule(letter=LETTERS)
    def hold(self, letter: str) -> None:
        self.do(holding.hold, self.drive(letter), "claim", by=IDA)

    @precondition(lambda self: Hold.objects.filter(lift=None).exists())
    @rule()
    def lift(self) -> None:
        self.do(holding.lift, Hold.objects.filter(lift=None).first(), "paid", by=IDA)

    @rule(letter=LETTERS, who=st.sampled_from(["Jo", "Steward"]))
    def release(self, letter: str, who: str) -> None:
        row = self.do(releasing.release, "FMC", [self.drive(letter)], self.book.person(who), "letter", by=IDA)
        if row is not None and who == "Jo" and not (self.recording and letter in self.members):
            self.held.discard(letter)

    @precondition(lambda self: Release.objects.filter(withdrawal=None).exists())
    @rule()
    def withdraw(self) -> None:
        """Whatever was recorded and not wiped is unreleased again; the page forgets it, the book must not."""
        self.do(releasing.withdraw, Release.objects.filter(withdrawal=None).last(), "reshoot", by=IDA)

    @rule(letter=LETTERS)
    def wipe(self, letter: str) -> None:
        self.do(bench.begin, [self.drive(letter)], Method("purge", "block erase", "bench 4"), by=WES)

    @rule(end=st.sampled_from(["verify", "stop", "fail"]), by=st.sampled_from([WES, ANA]))
    def end_wipe(self, end: str, by: Witness) -> None:
        begun = Wipe.objects.filter(step="begun").last()
        if begun is not None:
            done = self.do(getattr(bench, end), begun.job, begun.drive, "read back", by=by)
            SHARES[f"a wipe was ended by {end}"] += done is not None

    @rule(letter=LETTERS)
    def health(self, letter: str) -> None:
        self.do(doubts.check_health, self.drive(letter), "good", "long test", by=IDA)

    @rule(letter=LETTERS)
    def accept(self, letter: str) -> None:
        for doubt in wipe_answer(self.drive(letter), self.at).doubts:
            self.do(doubts.accept, self.drive(letter), doubt.digest, "asked", by=IDA)

    @rule(back=st.integers(0, 8))
    def correct(self, back: int) -> None:
        """Take back what was told of content; the page then no longer knows who records, but what was held stays."""
        rows = Entry.objects.filter(verb__in=(*CONTENT_VERBS, *FREE), happened_at__gt=self.book.now)
        acts = list(dict.fromkeys(rows.order_by("-happened_at").values_list("act", flat=True)))
        if back < len(acts):
            told = set(Entry.objects.filter(act=acts[back]).values_list("verb", flat=True))
            self.do(ledger.correct, acts[back], reason="wrong", by=IDA)
            if told & set(CONTENT_VERBS):
                self.members, self.recording = set(), False

    @rule(letter=LETTERS, verb=st.sampled_from(TAKEN_BACK))
    def do_and_take_it_back(self, letter: str, verb: Verb) -> None:
        """A correction restores the earlier answer; none of these raises a doubt that P13 would keep."""
        if letter in {one for one in "ABC" if not self._is_home(one)}:
            return
        before, drive = self._told(letter), self.drive(letter)
        more = {
            Verb.PLACED: {"place": self.book.places["Quay"]},
            Verb.CHECKED: {"rule": HEALTH, "value": "good"},
            Verb.DECLARED_BLANK: {"note": "read back empty"},
            Verb.SERIAL_READ: {"serial": "99Z99Z"},
        }.get(verb, {})
        entries = self.do(ledger.record, [ledger.Fact(verb, drive, **more)], by=IDA)
        SHARES["an act changed the answer until it was taken back"] += self._told(letter) != before
        self.do(ledger.correct, entries[0].act, reason="wrong", by=IDA)
        assert self._told(letter) == before

    def _is_home(self, letter: str) -> bool:
        holding = self.drive(letter).__class__.objects.get(pk=self.drive(letter).pk).holding
        return holding.place == self.book.places["Mill"]

    def _told(self, letter: str) -> tuple[str, list[str]]:
        answer = wipe_answer(self.drive(letter), self.at)
        return answer.answer, [reason.sentence for reason in answer.reasons]

    @invariant()
    def unreleased_content_is_never_free(self) -> None:
        if not hasattr(self, "book"):
            return
        ids = {letter: self.drive(letter).pk for letter in "ABC"}
        opened = open_book(book_for(drives=ids.values(), sets=[self.one.pk]), self.at)
        answers = {letter: answer_drive(opened, pk) for letter, pk in ids.items()}
        for letter in sorted(self.held):
            assert answers[letter].answer != "YES", (letter, answers[letter].sentence)
        assert answers["C"].answer != "YES", "nobody ever said what was on C before"
        for answer in answers.values():
            assert answer.reasons and (answer.answer == "YES" or all(r.sentence and r.way_out for r in answer.reasons))
        whole = answer_set(opened, "HERON-1", drives_of_set(opened, self.one.pk))
        assert whole.answer == min((one.answer for one in whole.members), key=WORST.index, default="NOT KNOWN")
        SHARES["looked"] += 1
        SHARES["a drive held what nobody released"] += bool(self.held)
        SHARES["a drive was free"] += any(one.answer == "YES" for one in answers.values())


@pytest.mark.django_db
def test_no_sequence_of_acts_frees_what_nobody_released():
    stories = 6 if connection.vendor == "sqlite" else 3
    run_state_machine_as_test(
        Drives,
        settings=settings(
            max_examples=stories * MORE, stateful_step_count=12, deadline=None, database=None, derandomize=MORE == 1,
            suppress_health_check=list(HealthCheck), phases=[Phase.explicit, Phase.generate, Phase.shrink],
        ),
    )  # fmt: skip
    print(dict(SHARES))  # noqa: T201
    assert SHARES["a drive held what nobody released"] > SHARES["looked"] / 10, "else it would prove little"
    assert SHARES["a drive was free"] > SHARES["looked"] / 10
