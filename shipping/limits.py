"""The limits the rules read, of packing and of the wipe bench: dated rows beside what each rule says by itself."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from inventory.answers.bench_rules import BENCH_RULES, BenchLimit, BenchRule, Dated
from inventory.ledger import Witness
from inventory.models import Role
from shipping.models import RuleLimit
from shipping.packing.rules import RULES, Limit, Rule
from shipping.packing.rules.registry import number_words
from shipping.planning.wholes import dated_limits, limits_on
from shipping.waiving import Counted, how_often

KEPT_WAIVING, WITHIN = 3, timedelta(days=90)
CHANGES = 20


class LimitRefusal(ValueError):
    """This is no limit. Carries a sentence to show."""


@dataclass(frozen=True, slots=True)
class LimitLine:
    """One limit of a rule: what counts on the day, and every dated row there is."""

    name: str
    limit: Limit | BenchLimit
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
    """One rule with its limits. `waived`: how often it was ever set aside, and how often of late."""

    rule: Rule | BenchRule
    limits: tuple[LimitLine, ...]
    waived: Counted

    @property
    def on_the_bench(self) -> bool:
        return isinstance(self.rule, BenchRule)

    @property
    def kept_waiving(self) -> bool:
        """Do people keep setting it aside? Then the rule, the limit or the gear is wrong."""
        return self.waived.lately >= KEPT_WAIVING


@dataclass(frozen=True, slots=True)
class Change:
    """A limit somebody entered: of which rule, from which figure to which, from which day, by whom and when."""

    row: RuleLimit
    sentence: str
    unit: str
    words: str
    before: Decimal


def all_rules() -> dict[str, Rule | BenchRule]:
    """The packing rules by number, then those of the wipe bench."""
    return {**RULES, **BENCH_RULES}


def rule_lines(on: date, at: datetime) -> list[RuleLine]:
    """Every rule with its limits on a day and how often it was set aside, in three queries."""
    rows: dict[tuple[str, str], list[RuleLimit]] = defaultdict(list)
    for row in RuleLimit.objects.order_by("-valid_from", "-pk"):
        rows[row.rule, row.name].append(row)
    now, waived = limits_on(on), how_often(RULES, since=at - WITHIN)
    return [
        RuleLine(rule, _limits(rule, now, rows), waived.get(ident, Counted(0, 0)))
        for ident, rule in all_rules().items()
    ]


def _limits(
    rule: Rule | BenchRule,
    now: Mapping[tuple[str, str], Decimal],
    rows: Mapping[tuple[str, str], list[RuleLimit]],
) -> tuple[LimitLine, ...]:
    return tuple(
        LimitLine(name, limit, now.get((rule.id, name), limit.value), tuple(rows.get((rule.id, name), ())))
        for name, limit in rule.limits.items()
    )


def changes(lines: Iterable[RuleLine]) -> list[Change]:
    """The limits entered last, newest first, each with the figure that counted before its day."""
    found = []
    for line in lines:
        for limit in line.limits:
            earlier = [*(row.value for row in limit.rows[1:]), limit.limit.value]
            for row, before in zip(limit.rows, earlier, strict=False):
                found.append(Change(row, line.rule.sentence, limit.limit.unit, limit.limit.words, before))
    return sorted(found, key=lambda one: (one.row.entered_at, one.row.pk), reverse=True)[:CHANGES]


def of_the_bench() -> list[Dated]:
    """The dated limits of the bench rules, oldest first, for the answers that apply them."""
    return [row for row in dated_limits().rows if row[0] in BENCH_RULES]


def set_limit(
    rule: str, name: str, value: Decimal, *, valid_from: date, source: str, by: Witness, at: datetime
) -> RuleLimit:  # fmt: skip
    """Enter a limit from a day on. The earlier ones stay, and go on counting for their days."""
    if by.role != Role.KIT_MANAGER:
        raise LimitRefusal("Only the kit manager changes a limit.")
    known = all_rules().get(rule)
    if known is None or name not in known.limits:
        raise LimitRefusal(f"The rule {rule} has no limit called {name}.")
    if no := _refusal(known.limits[name], value):
        raise LimitRefusal(no)
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


def _refusal(limit: Limit | BenchLimit, value: Decimal) -> str:
    """Why this figure cannot be this limit; nothing if it can."""
    if value <= 0:
        return "A limit is a number above zero."
    if not isinstance(limit, BenchLimit):
        return ""
    if value != value.to_integral_value():
        return f"Whole {limit.unit} only."
    if limit.least is not None and value < limit.least:
        least = number_words(limit.least)
        return (
            f"Not fewer than {least} {limit.unit}: only the owner's document makes it less, entered with the agreement."
        )
    return ""
