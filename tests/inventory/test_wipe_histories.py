"""Whatever is done, content that an entry gave never becomes YES by itself (random histories).

One kit manager does every correction, every look and every acceptance, so that no second person ever stands behind
one. Then only a valid release may free a drive on which the set recorded.
"""

from __future__ import annotations

import pytest
from django.db import transaction
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st

from inventory.models import Verb
from tests.inventory.histories import History

UNDONE = (Verb.RECORDING, Verb.STOPPED, Verb.JOINED, Verb.DROPPED, Verb.FITTED, Verb.PULLED, Verb.MISSED, Verb.FAULTED,
          Verb.ERASED, Verb.DECLARED_BLANK, Verb.CONTENT_GIVEN, Verb.HANDED_OVER)  # fmt: skip
OF_THE_SET = (Verb.RECORDING, Verb.STOPPED)
LINES = {
    "record": "record HERON-1 FMC", "record unnamed": "record HERON-1", "stop": "stop HERON-1", "join": "join {0}",
    "drop": "drop {0}", "fit": "fit {0}", "pull": "pull {0}", "blank": "blank {0}", "given": "given {0} CCA",
    "hand": "hand {0} Jo", "receive": "receive {0} Jo", "miss": "miss {0}", "find": "find {0}", "fault": "fault {0}",
    "health": "health {0}", "erased": "erased {0}", "break up": "breakup", "accept": "accept {0} Ida",
    "begin": "wipe {0} begun Wes", "verify": "wipe {0} verified Ida", "stop wipe": "wipe {0} stopped Wes",
    "copies": "copies FMC {0}", "authority too late": "mandate CCA Steward", "unsure": "release FMC {0} Steward",
    "by set": "release FMC HERON-1 Jo", "released": "release FMC {0} Jo no-copies", "withdraw": "withdraw",
}  # fmt: skip
DRIVES = st.sampled_from("ABC")
ACTS = st.tuples(st.sampled_from(sorted(LINES)), DRIVES)
UNDO = st.tuples(st.sampled_from([f"undo {verb}" for verb in UNDONE]), DRIVES)
CALM = st.tuples(st.sampled_from(["fit", "pull", "copies", "join", "released", "blank", "accept"]), DRIVES)
MAKES_KNOWN = ("blank", "given")


def around(acts: st.SearchStrategy, *most: int) -> st.SearchStrategy:
    """Histories with a recording in their midst, so that there always is content to lose."""
    lists = (st.lists(acts, max_size=one) for one in most)
    return st.builds(lambda a, b, c: [*a, ("record", "A"), *b, ("stop", "A"), *c], *lists)


# The calm ones end with a valid release: without them nothing would ever be YES, and the test would prove little.
STEPS = around(ACTS | UNDO, 3, 4, 9) | around(CALM, 1, 1, 4).map(lambda steps: [*steps, ("released", "A")])


class Told:
    """What a person with a pencil knows: who is in the set, what it records, and which drives it recorded on."""

    def __init__(self) -> None:
        self.live: list[tuple[str, str]] = []
        self.holds: set[str] = set()

    def newest(self, *pairs: tuple[str, str]) -> tuple[str, str] | None:
        return next((one for one in reversed(self.live) if one in pairs), None)

    def is_member(self, letter: str) -> bool:
        return self.newest(("join", letter), ("drop", letter)) == ("join", letter)

    @property
    def recording(self) -> bool:
        return self.newest(("record", ""), ("stop", "")) == ("record", "")

    def note(self, act: str, letter: str) -> None:
        if act.startswith("undo "):
            self._undo(act.removeprefix("undo "), letter)
            return
        if act in ("join", "drop"):
            self.live.append((act, letter))
        if act in ("record", "record unnamed", "stop"):
            self.live.append((act.split()[0], ""))
        if act == "released":
            self.holds.discard(letter)
        elif self.recording and act in ("record", "record unnamed", "join"):
            self.holds |= {one for one in "ABC" if self.is_member(one)}

    def _undo(self, verb: str, letter: str) -> None:
        pair = {Verb.RECORDING: ("record", ""), Verb.STOPPED: ("stop", ""), Verb.JOINED: ("join", letter),
                Verb.DROPPED: ("drop", letter)}.get(verb)  # fmt: skip
        if pair in self.live:
            del self.live[len(self.live) - 1 - self.live[::-1].index(pair)]


def tell(history: History, told: Told, hour: int, act: str, letter: str) -> None:
    """Do one step, if it can be done at all, in the book and on the pencilled page."""
    verb = act.removeprefix("undo ")
    key = verb if verb in OF_THE_SET else f"{verb} {letter}"
    line = f"undo {key} Ida" if act.startswith("undo ") else LINES[act].format(letter)
    lacks = (
        (act.startswith("undo ") and key not in history.acts)
        or (act == "withdraw" and not history.releases)
        or (act in ("verify", "stop wipe") and letter not in history.jobs)
        or (act in MAKES_KNOWN and letter == "C")
    )
    if lacks:
        return
    history.tell(f"{hour} {line}")
    if act.startswith("undo "):
        del history.acts[key]
    if act in ("verify", "stop wipe"):
        del history.jobs[letter]
    if act == "withdraw":
        history.releases.pop()
    told.note(act, letter)


@pytest.mark.django_db
@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(steps=STEPS)
def test_content_that_an_entry_gave_never_becomes_yes_without_a_second_persons_word(steps):
    with transaction.atomic():
        history, told = History(), Told()
        history.tell("1 blank AB\n2 join ABC\n2 mandate FMC Jo")
        told.live += [("join", one) for one in "ABC"]
        for hour, (act, letter) in enumerate(steps, start=3):
            tell(history, told, hour, act, letter)
            if act in ("blank", "accept", "verify"):
                judge(history, told)
        history.now = history.told = history.now.replace(minute=30)
        judge(history, told)
        event(f"drives that hold what nobody released: {len(told.holds)}")
        event(f"a drive may be wiped: {any(history.answer(one).answer == 'YES' for one in 'AB')}")
        event(f"something was corrected: {any(act.startswith('undo') for act, _ in steps)}")
        transaction.set_rollback(True)


def judge(history: History, told: Told) -> None:
    for letter in sorted(told.holds):
        found = history.answer(letter)
        assert found.answer != "YES", (letter, found.sentence)
        assert found.reasons, "an answer shows its reasons"
    assert history.answer("C").answer != "YES", "nobody ever said what was on C before"
    assert history.answer("CURLEW-1").answer == "NOT KNOWN", "a set without drives"
