"""The limits the rules read: dated rows beside what each rule says by itself."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from inventory.ledger import Witness
from inventory.models import Role
from shipping.models import RuleLimit
from shipping.packing.rules import RULES, Limit, Rule
from shipping.packing.rules.registry import number_words
from shipping.planning.wholes import limits_on
from shipping.waiving import how_often


class LimitRefusal(ValueError):
    """This is no limit. Carries a sentence to show."""


@dataclass(frozen=True, slots=True)
class LimitLine:
    """One limit of a rule: what counts on the day, and every dated row there is."""

    name: str
    limit: Limit
    now: Decimal
    rows: tuple[RuleLimit, ...]

    @property
    def figure(self) -> str:
        return f"{number_words(self.now)} {self.limit.unit}"

    @property
    def words(self) -> str:
        return f"{self.figure}: {self.limit.words}"


@dataclass(frozen=True, slots=True)
class RuleLine:
    rule: Rule
    limits: tuple[LimitLine, ...]
    waived: int


def rule_lines(on: date) -> list[RuleLine]:
    """Every rule with its limits on a day and how often it was set aside, in three queries."""
    rows: dict[tuple[str, str], list[RuleLimit]] = defaultdict(list)
    for row in RuleLimit.objects.order_by("-valid_from", "-pk"):
        rows[row.rule, row.name].append(row)
    now, waived = limits_on(on), how_often(RULES)
    return [RuleLine(rule, _limits(rule, now, rows), waived.get(rule.id, 0)) for rule in RULES.values()]


def _limits(
    rule: Rule, now: Mapping[tuple[str, str], Decimal], rows: Mapping[tuple[str, str], list[RuleLimit]]
) -> tuple[LimitLine, ...]:
    return tuple(
        LimitLine(name, limit, now[rule.id, name], tuple(rows.get((rule.id, name), ())))
        for name, limit in rule.limits.items()
    )


def set_limit(
    rule: str, name: str, value: Decimal, *, valid_from: date, source: str, by: Witness, at: datetime
) -> RuleLimit:  # fmt: skip
    """Enter a limit from a day on. The earlier ones stay, and go on counting for their days."""
    if by.role != Role.KIT_MANAGER:
        raise LimitRefusal("Only the kit manager changes a limit.")
    if rule not in RULES or name not in RULES[rule].limits:
        raise LimitRefusal(f"The rule {rule} has no limit called {name}.")
    if value <= 0:
        raise LimitRefusal("A limit is a number above zero.")
    if not source.strip():
        raise LimitRefusal("Say where the limit is from, or who decided it.")
    return RuleLimit.objects.create(
        rule=rule,
        name=name,
        value=value,
        valid_from=valid_from,
        source=source.strip(),
        entered_by=by.name,
        entered_at=at,
    )
