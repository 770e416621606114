"""Findings sorted as every page that judges shows them: what blocks, what stands by a decision, warns, is not known."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from shipping.packing.facts import Finding, State
from shipping.waiving import Judged, decision_only


@dataclass(frozen=True, slots=True)
class Shown:
    """A finding as the page shows it, with the word over it and whether only a decision can set it aside."""

    finding: Finding
    judged: Judged
    decision_only: bool

    @property
    def key(self) -> str:
        return self.finding.digest[:16]


@dataclass(frozen=True, slots=True)
class Piles:
    blocks: tuple[Shown, ...]
    set_aside: tuple[Shown, ...]
    warnings: tuple[Shown, ...]
    not_known: tuple[Shown, ...]


def shown_of(judged: Judged) -> Shown:
    return Shown(judged.finding, judged, decision_only(judged.finding))


def piles(judged: Iterable[Judged]) -> Piles:
    """Each in the order given; what asks somebody to look is in none of them."""
    shown = [shown_of(one) for one in judged]
    return Piles(
        blocks=tuple(one for one in shown if one.judged.blocks),
        set_aside=tuple(one for one in shown if one.finding.blocks and not one.judged.blocks),
        warnings=tuple(one for one in shown if one.finding.state == State.WRONG and not one.finding.blocks),
        not_known=tuple(one for one in shown if one.finding.state == State.NOT_KNOWN),
    )
