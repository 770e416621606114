"""Judge a load by every rule, worst first."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal

from shipping.packing.facts import Finding, Load, Severity, State
from shipping.packing.rules import RULES, Rule

_SEVERITY = list(Severity)
_STATE = list(State)


def order(finding: Finding) -> tuple[bool, int, int, int, str, str]:
    """What stands in the way first, then what is wrong, what is asked, what nobody knows."""
    place = list(RULES).index(finding.rule) if finding.rule in RULES else len(RULES)
    return (
        not finding.blocks,
        _STATE.index(finding.state),
        _SEVERITY.index(finding.severity),
        place,
        finding.subject,
        finding.sentence,
    )


def judge(load: Load, rules: Iterable[Rule] | None = None) -> list[Finding]:
    """Every finding on this load; the same load gives the same list."""
    asked = RULES.values() if rules is None else rules
    return sorted((finding for one in asked for finding in one.judge(load)), key=order)


def default_limits() -> Mapping[tuple[str, str], Decimal]:
    return {(one.id, name): limit.value for one in RULES.values() for name, limit in one.limits.items()}
