"""What a rule is: one function over a load. Its name is its id, its docstring the sentence people read."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from decimal import Decimal, InvalidOperation
from typing import Any

from shipping.packing.facts import BorderList, Case, Finding, Leg, Load, Piece, Severity, Show, State

Subject = Case | Leg | Show | BorderList | Piece
WHILE_CLOSED = "until the case opens"
FOR_THE_TYPE = "for every case of its type"


@dataclass(frozen=True, slots=True)
class Limit:
    """A number a rule reads, as it stands until somebody enters a dated one."""

    value: Decimal
    unit: str
    words: str


@dataclass(frozen=True, slots=True)
class Said:
    """What a rule function yields: the rule fills in its own name and severity."""

    subject: Subject
    state: State
    sentence: str
    way_out: str
    facts: tuple[tuple[str, str], ...] = ()
    severity: Severity | None = None


@dataclass(frozen=True, slots=True)
class Ask:
    """Evidence wanted for a case or a leg: good on yes (or on a measure within its limits), wrong on no."""

    of: Case | Leg
    question: str
    if_not: str
    way_out: str
    at_least: Decimal | None = None
    at_most: Decimal | None = None
    unit: str = ""
    facts: tuple[tuple[str, str], ...] = ()

    @property
    def limits(self) -> tuple[tuple[str, str], ...]:
        named = (("at_least", self.at_least), ("at_most", self.at_most))
        return tuple((name, str(value)) for name, value in named if value is not None)

    def is_met_by(self, measured: Decimal) -> bool:
        enough = self.at_least is None or measured >= self.at_least
        return enough and (self.at_most is None or measured <= self.at_most)


def _facts(given: dict[str, Any]) -> tuple[tuple[str, str], ...]:
    return tuple(sorted((name, str(value)) for name, value in given.items()))


def wrong(subject: Subject, sentence: str, way_out: str, severity: Severity | None = None, **facts: Any) -> Said:
    return Said(subject, State.WRONG, sentence, way_out, _facts(facts), severity)


def unknown(subject: Subject, sentence: str, way_out: str, **facts: Any) -> Said:
    return Said(subject, State.NOT_KNOWN, sentence, way_out, _facts(facts))


def ask(
    of: Case | Leg,
    question: str,
    if_not: str,
    way_out: str,
    *,
    at_least: Decimal | None = None,
    at_most: Decimal | None = None,
    unit: str = "",
    **facts: Any,
) -> Ask:
    return Ask(of, question, if_not, way_out, at_least, at_most, unit, _facts(facts))


@dataclass(frozen=True, slots=True)
class Rule:
    """`measure` is the unit of the number it asks for; nothing where yes or no is asked."""

    id: str
    number: str
    sentence: str
    severity: Severity
    source: str
    judge_load: Callable[..., Iterator[Said | Ask]]
    limits: dict[str, Limit] = field(default_factory=dict)
    asks: str = ""
    measure: str = ""
    lasts: str = WHILE_CLOSED
    decision_only: bool = False
    always_known: str = ""

    def judge(self, load: Load) -> Iterator[Finding]:
        """Every finding of this rule on this load."""
        limits = {name: load.limits.get((self.id, name), limit.value) for name, limit in self.limits.items()}
        for said in self.judge_load(load, **limits):
            resolved = self.weigh(said) if isinstance(said, Ask) else said
            if resolved is not None:
                yield self.finding(resolved)

    def finding(self, said: Said) -> Finding:
        severity = said.severity or self.severity
        return Finding(self.id, said.subject.subject, severity, said.state, said.sentence, said.way_out, said.facts)

    def weigh(self, wanted: Ask) -> Said | None:
        """Set the evidence that still holds against what is asked."""
        proof = wanted.of.proofs.get(self.id)
        if proof is None:
            return Said(
                wanted.of, State.NOT_CONFIRMED, wanted.question, f"Look, then confirm: {self.asks}.", wanted.facts
            )
        if not wanted.limits:
            bad = proof.value.strip().lower() in {"no", "wrong"}
            return Said(wanted.of, State.WRONG, wanted.if_not, wanted.way_out, wanted.facts) if bad else None
        measured = _number(proof.value)
        if measured is None:
            return Said(wanted.of, State.NOT_CONFIRMED, wanted.question, f"Measure it in {wanted.unit}.", wanted.facts)
        if wanted.is_met_by(measured):
            return None
        facts = (*wanted.facts, ("measured", str(measured)), *wanted.limits)
        return Said(wanted.of, State.WRONG, wanted.if_not.format(measured=f"{measured:f}"), wanted.way_out, facts)


def _number(text: str) -> Decimal | None:
    try:
        return Decimal(text.split()[0])
    except (InvalidOperation, IndexError):
        return None


RULES: dict[str, Rule] = {}


def rule(number: str, severity: Severity, source: str, **more: Any) -> Callable[[Callable[..., Any]], Rule]:
    """Make a rule of a function. `number` orders the Rules page; `more` are fields of Rule."""

    def register(function: Callable[..., Any]) -> Rule:
        ident = function.__name__.replace("_", "-")
        if ident in RULES:
            raise ValueError(f"two rules are called {ident}")
        sentence = inspect.cleandoc(function.__doc__ or "")
        made = Rule(ident, number, sentence, severity, source, function, **more)
        RULES[ident] = made
        return made

    return register


def number_words(value: Decimal) -> str:
    """A limit or a mass as people write it: 16, 2.5, 1,092.5."""
    return f"{value.normalize():,f}"


def exact(value: Decimal) -> str:
    """The same among the facts of a finding: bare, since words over it hang on its letters."""
    return f"{value.normalize():f}"
