"""Reasons are sufficient: each alone supports its verdict, and with all of them ended the answer is YES.

Proved by doing: for a history whose answer is NO or NOT KNOWN, the way out of each reason is taken, in the book. While
one reason is left the answer must stay what that reason supports; when none is left it must be YES.
"""

from __future__ import annotations

import pytest

from inventory.answers.values import Reason
from inventory.answers.wiping import WipeAnswer
from tests.factories import T0
from tests.inventory.histories import History
from tests.inventory.test_wipe_table import TABLE

pytestmark = pytest.mark.django_db
# What people do to end a reason. {0} is the drive, {1} the show.
ENDING = {
    "not released": "mandate {1} Jo letter 0 0 0\nrelease {1} {0} Jo no-copies",
    "unsure release": "mandate {1} Jo letter 0 0 0\nrelease {1} {0} Jo no-copies", "too few copies": "copies {1} {0}",
    "hold": "lift", "recording": "stop HERON-1", "wipe under way": "wipe {0} stopped", "with client": "receive {0} Jo",
    "lost": "find {0}", "set incomplete": "breakup", "suspect": "health {0}",
    "no start": "blank {0}", "foreign": "accept {0} Mara", "unreadable serial": "read {0}",
    "erased without release": "mandate {1} Jo letter 0 0 0\nrelease {1} {0} Jo no-copies",
    **dict.fromkeys(
        ("reconstructed", "doubtful", "corrected", "custody gap", "other hands", "lost and found", "another seal",
         "fitted, recording not told"), "accept {0} Mara"
    ),
}  # fmt: skip
NO = {"hold", "recording", "wipe under way", "with client", "lost", "set incomplete", "not released", "too few copies",
      "erased without release"}  # fmt: skip
COMES_ALONG = {"recording": {"not released"}}  # what is still being recorded, no release can cover yet
TOGETHER = {"erased without release": {"not released"}}  # one word of the owner ends both
CASES = [row for row in TABLE if row[3] != "YES" and len(row[2]) == 1]


def end(history: History, what: str, reasons: list[Reason], answer: WipeAnswer) -> None:
    """Take the way out of these reasons, an hour later each."""
    shows = [held.reference for held in answer.content] or ["FMC"]
    for reason in reasons:
        for line in (
            ENDING[reason.word].format(what, next((s for s in shows if s in reason.sentence), shows[0])).split("\n")
        ):
            hour = (history.now - T0).total_seconds() / 3600 + 1
            history.tell(f"{hour} {line}")


def ended(history: History, what: str, keep: str = "") -> WipeAnswer:
    """Peel off every reason save the kept word; a way out may bring up what another had hidden, so look again."""
    for _ in range(8):
        answer = history.answer(what)
        kept = {keep} | TOGETHER.get(keep, set())
        rest = [reason for reason in answer.reasons if reason.word not in kept]
        if answer.answer == "YES" or not rest or any(reason.word not in ENDING for reason in rest):
            break
        end(history, what, rest, answer)
    return history.answer(what)


FIRST_OF = {row[4]: row for row in reversed(CASES) if row[4] in ENDING}


@pytest.mark.parametrize("word", sorted(FIRST_OF))
def test_with_every_reason_ended_the_answer_is_yes(word):
    _, story, what, _, _ = FIRST_OF[word]
    history = History().tell(story)
    found = ended(history, what)
    assert found.answer == "YES", [(r.word, r.sentence) for r in found.reasons]


@pytest.mark.parametrize("word", sorted(FIRST_OF))
def test_one_reason_alone_supports_its_verdict(word):
    _, story, what, _, _ = FIRST_OF[word]
    history = History().tell(story)
    found = ended(history, what, keep=word)
    left = {reason.word for reason in found.reasons}
    assert left - COMES_ALONG.get(word, set()) - TOGETHER.get(word, set()) == {word}, [
        (r.word, r.sentence) for r in found.reasons
    ]
    assert found.answer == ("NO" if word in NO else "NOT KNOWN"), found.sentence
