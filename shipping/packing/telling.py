"""A plan as data with stable names and as lines to read. Pure."""

from __future__ import annotations

from typing import Any, Protocol

from shipping.packing.wanted import MOVED_WORDS, Content, Job, Level, Plan, moved


class Recorded(Protocol):
    """A plan with its record: of gear in cases, or of cases on a deck."""

    @property
    def words(self) -> str: ...
    @property
    def proven(self) -> bool: ...
    @property
    def levels(self) -> tuple[Level, ...]: ...
    @property
    def engine(self) -> str: ...
    @property
    def seed(self) -> int: ...
    @property
    def seconds(self) -> float: ...
    @property
    def breaches(self) -> tuple[str, ...] | None: ...
    @property
    def notes(self) -> tuple[str, ...]: ...


def record_of(plan: Recorded) -> dict[str, Any]:
    """How good the plan is and how that is known."""
    return {
        "sentence": plan.words,
        "proven": plan.proven,
        "goals": [
            {"goal": one.name, "value": one.value, "bound": one.bound, "gap": round(one.gap, 4), "engine": one.engine}
            for one in plan.levels
        ],
        "engine": plan.engine,
        "seed": plan.seed,
        "seconds": plan.seconds,
        "check": "passed" if plan.breaches == () else list(plan.breaches or ["not checked"]),
        "notes": list(plan.notes),
    }


def as_data(job: Job, plan: Plan) -> dict[str, Any]:
    """The whole plan; documented in docs/load-files.md."""
    return {
        "cases": {case: dict(content) for case, content in plan.contents.items()},
        "vehicles": plan.vans,
        "left": [{"gear": one.gear, "count": one.count, "reason": one.reason} for one in plan.left],
        "cannot_all_go": [dict(one) for one in plan.conflicts],
        "moves": [one._asdict() for one in moved(job, plan.contents)],
        "layouts": {
            case: [{"gear": one.gear, "at_mm": list(one.at_mm), "size_mm": list(one.size_mm)} for one in laid]
            for case, laid in plan.layouts.items()
        },
        "record": record_of(plan),
    }


def as_lines(job: Job, plan: Plan) -> list[str]:
    """For a terminal: how good, what stays behind and why, case by case, what is not in its usual case."""
    lines = [plan.words, ""]
    for one in plan.left:
        lines.append(f"Stays behind: {one.count} x {job.kinds[one.gear].name}. {one.reason}")
    lines += [conflict_words(job, one) for one in plan.conflicts]
    for case, content in plan.contents.items():
        van = f" on {plan.vans[case]}" if case in plan.vans else ""
        lines.append(f"{case}{van}: " + ", ".join(f"{count} x {job.kinds[gear].name}" for gear, count in content))
    away = moved(job, plan.contents)
    lines += ["", MOVED_WORDS if away else "Everything is in its usual case."]
    lines += [f"  {one.count} x {job.kinds[one.gear].name}: {one.usual} -> {one.now}" for one in away]
    lines += ["", *(f"{one.name}: {one.value} (bound {one.bound}, {one.engine or plan.engine})" for one in plan.levels)]
    return [*lines, *plan.notes, f"Checked apart from the planner: {'passed' if plan.breaches == () else 'FAILED'}."]


def conflict_words(job: Job, conflict: Content) -> str:
    """The smallest set that cannot go, in words."""
    named = ", ".join(f"{count} x {job.kinds[gear].name}" for gear, count in conflict)
    if sum(count for _, count in conflict) == 1:
        return f"Cannot go into any of these cases: {named}."
    return f"Cannot all go into these cases: {named}. Without one of them the others can."
