"""Every rule, in the order people read them: by number, then those without one."""

from __future__ import annotations

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

__all__ = ["MODULES", "RULES", "Limit", "Rule"]
