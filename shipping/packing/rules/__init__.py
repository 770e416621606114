"""Every rule, in the order people read them: by number, then those without one."""

from __future__ import annotations

from decimal import Decimal

from shipping.packing.facts import Load
from shipping.packing.rules import (
    batteries,
    belonging,
    borders,
    closing,
    drives,
    fragile,
    frames,
    freight,
    masses,
    underway,
    vehicles,
)
from shipping.packing.rules.registry import RULES, Limit, Rule

MODULES = (drives, frames, fragile, masses, freight, batteries, belonging, closing, vehicles, underway, borders)


def by_number(rule: Rule) -> tuple[int, str]:
    return (int(rule.number), rule.id) if rule.number.isdigit() else (100, rule.id)


_ordered = sorted(RULES.values(), key=by_number)
RULES.clear()
RULES.update({rule.id: rule for rule in _ordered})


def limit_in(load: Load, rule: str, name: str) -> Decimal:
    """The limit of a rule that counts for this load: the dated one it brings, else what the rule says by itself."""
    return load.limits.get((rule, name), RULES[rule].limits[name].value)


__all__ = ["MODULES", "RULES", "Limit", "Rule", "limit_in"]
