"""What the rules say, as one answer: of a case, of a show, for the command line and the API."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from inventory.answers.values import Reason
from inventory.models import Item
from inventory.naming import item_named
from shipping.models import Show
from shipping.packing.facts import State
from shipping.packing.lifting import CAUTION
from shipping.packing.rules import RULES
from shipping.planning import findings_for_case, findings_for_show
from shipping.sealing import in_the_way
from shipping.waiving import Judged, standing

NOT_AN_APPROVAL = f"A prompt from entered figures, not an approval. {CAUTION}"


@dataclass(frozen=True, slots=True)
class Said:
    """One finding, flat: fields stay, whatever the rules become."""

    rule: str
    number: str
    subject: str
    severity: str
    state: str
    blocks: bool
    sentence: str
    way_out: str
    digest: str
    waived_by: str
    waived_why: str


@dataclass(frozen=True, slots=True)
class Findings:
    """`answer` is blocked, asks, warns, not known or clear: the worst that stands."""

    answer: str
    sentence: str
    reasons: tuple[Reason, ...]
    findings: tuple[Said, ...]
    caution: str = NOT_AN_APPROVAL


def subject_named(text: str) -> Item | Show | None:
    """A show by its code, else a case by code, number or former number."""
    show = Show.objects.filter(code__iexact=text.strip()).first()
    if show is not None:
        return show
    item = item_named(text)
    return item if item is not None and hasattr(item.type, "container") else None


def findings(subject: Item | Show, at: datetime) -> Findings:
    """Every finding on a case or a show, worst first, with the word that stands over it."""
    found = findings_for_show(subject, at) if isinstance(subject, Show) else findings_for_case(subject, at)
    judged = standing(found)
    of_what = f"{subject.code} leaving" if isinstance(subject, Show) else f"closing {subject}"
    blocks = sum(one.blocks for one in judged)
    sentence = f"{in_the_way(blocks, of_what)} {_rest(judged)}".strip()
    reasons = tuple(Reason(_word(one), one.finding.sentence, one.finding.way_out) for one in judged)
    return Findings(_answer(judged), sentence, reasons, tuple(_flat(one) for one in judged))


def _rest(judged: Sequence[Judged]) -> str:
    warned = sum(one.finding.state == State.WRONG and not one.blocks for one in judged)
    asked = len({(one.finding.rule, one.finding.subject) for one in judged if one.finding.state == State.NOT_CONFIRMED})
    unknown = sum(one.finding.state == State.NOT_KNOWN for one in judged)
    parts = [(warned, "not right and no block"), (asked, "to look at"), (unknown, "not known")]
    said = [f"{count} {words}" for count, words in parts if count]
    return f"Besides: {', '.join(said)}." if said else ""


def _word(one: Judged) -> str:
    if one.finding.blocks:
        return "block" if one.blocks else "waived"
    return one.finding.severity.value if one.finding.state == State.WRONG else one.finding.state.value


def _answer(judged: Sequence[Judged]) -> str:
    words = [_word(one) for one in judged]
    for word, answer in (
        ("block", "blocked"),
        ("warn", "warns"),
        ("not confirmed", "asks"),
        ("not known", "not known"),
    ):
        if word in words:
            return answer
    return "clear"


def _flat(one: Judged) -> Said:
    finding, waiver = one.finding, one.waiver
    return Said(
        finding.rule, RULES[finding.rule].number, finding.subject, finding.severity.value, finding.state.value,
        one.blocks, finding.sentence, finding.way_out, finding.digest, waiver.by if waiver else "",
        waiver.reason if waiver else "",
    )  # fmt: skip
