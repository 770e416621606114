"""Systems and drive sets as the rules read them, and the limits in force on a day."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any, NamedTuple

from django.db.models import Q, QuerySet

from inventory.answers.loading import live
from inventory.models import DriveSet, Item, Kind, System, SystemPart, Verb
from inventory.models.catalogue import type_words
from inventory.prepared import Asked, Prepared
from inventory.unchanged import kept
from shipping.models import RuleLimit
from shipping.packing import facts
from shipping.packing.engine import default_limits
from shipping.planning.put import COLUMNS, Put, put


@dataclass(frozen=True, slots=True)
class DatedLimits:
    """Every limit ever entered, read once: legs of several days are judged each by the limits of its day."""

    rows: tuple[tuple[str, str, date, Decimal], ...]

    def on(self, day: date) -> Mapping[tuple[str, str], Decimal]:
        """Each limit as it stands on a day: the newest row not after it, else what the rule itself says."""
        in_force = {(rule, name): value for rule, name, valid_from, value in self.rows if valid_from <= day}
        return {**default_limits(), **in_force}


LIMITS = Prepared(
    lambda: RuleLimit.objects.order_by("valid_from", "pk").values_list("rule", "name", "valid_from", "value")
)


def dated_limits() -> DatedLimits:
    return DatedLimits(tuple(LIMITS()))


def limits_on(day: date) -> Mapping[tuple[str, str], Decimal]:
    """Each limit as it stands on a day."""
    return dated_limits().on(day)


def membership(drive_ids: Collection[int], at: datetime) -> dict[int, tuple[int, str]]:
    """The set and bay each drive last joined: a swapped-out drive still wears its set's letter."""
    found: dict[int, tuple[int, str]] = {}
    joined = live(at).filter(label__item__in=drive_ids, verb=Verb.JOINED).order_by("happened_at", "pk")
    for drive, drive_set, bay in joined.values_list("label__item_id", "drive_set_id", "bay"):
        found[drive] = (drive_set, bay)
    return found


def sets_of(set_ids: Collection[int], at: datetime) -> tuple[facts.DriveSet, ...]:
    """The sets with their members by the ledger, each with where it is."""
    asked = frozenset(set_ids)
    return kept(("sets", asked), at, lambda: _sets_of(asked, at)) if asked else ()


def _sets_of(set_ids: Collection[int], at: datetime) -> tuple[facts.DriveSet, ...]:
    members: dict[int, dict[int, str]] = defaultdict(dict)
    broken: set[int] = set()
    verbs = (Verb.JOINED, Verb.DROPPED, Verb.BROKEN_UP)
    entries = live(at).filter(drive_set__in=set_ids, verb__in=verbs).order_by("happened_at", "pk")
    for verb, drive_set, drive, bay in entries.values_list("verb", "drive_set_id", "label__item_id", "bay"):
        if verb == Verb.BROKEN_UP:
            broken.add(drive_set)
        elif verb == Verb.JOINED:
            members[drive_set][drive] = bay
        else:
            members[drive_set].pop(drive, None)
    drives = put({pk for found in members.values() for pk in found})
    return tuple(
        facts.DriveSet(pk, name, strict_order, pk in broken, _members(members[pk], drives))
        for pk, name, strict_order in SETS(sets=set_ids)
    )


def _members(bays: dict[int, str], drives: Sequence[Put]) -> tuple[facts.Member, ...]:
    found = [facts.Member(one.pk, one.words, bays[one.pk], one.where) for one in drives if one.pk in bays]
    return tuple(sorted(found, key=lambda member: (member.bay, member.item_id)))


def systems_of(system_ids: Collection[int]) -> tuple[facts.System, ...]:
    """The systems with their rails, their show-stoppers and whether anything of them needs a true sine wave."""
    return kept(("systems", frozenset(system_ids)), None, lambda: _systems_of(system_ids)) if system_ids else ()


class _Part(NamedTuple):
    """One line of a list of parts that the rules ask for; `item` where it is an exact thing."""

    system: int
    necessity: str
    show_stopper: bool
    quantity: int
    type_id: int | None
    maker: str | None
    type_name: str | None
    kind: str | None
    item: Put | None

    @property
    def is_required_rails(self) -> bool:
        return (self.item.kind if self.item else self.kind) == Kind.RAILS and self.necessity == "required"

    @property
    def wanted(self) -> facts.Wanted:
        if self.item is not None:
            return _exactly(self.item)
        return facts.Wanted(type_words(self.maker or "", self.type_name or ""), None, self.type_id, self.quantity)


def _exactly(one: Put) -> facts.Wanted:
    return facts.Wanted(one.words, one.pk, one.type_id, 1, one.where)


def _telling_parts(systems: Any) -> QuerySet[SystemPart, Any]:
    """Only the show-stoppers and the rails it requires: the rules ask for no others."""
    rails = Q(item__type__kind=Kind.RAILS) | Q(item=None, type__kind=Kind.RAILS)
    asked = Q(show_stopper=True) | (rails & Q(necessity="required"))
    return SystemPart.objects.filter(asked, system__in=systems).values_list(
        "system_id",
        "necessity",
        "show_stopper",
        "quantity",
        "type_id",
        "type__maker",
        "type__name",
        "type__kind",
        *(f"item__{column}" for column in COLUMNS),
    )


PARTS = Prepared(_telling_parts, systems=Asked.IDS)
RAILS = Prepared(
    lambda systems: Item.objects.in_stock().filter(home_system__in=systems, type__kind=Kind.RAILS).order_by("pk")
    .values_list("home_system_id", *COLUMNS),
    systems=Asked.IDS,
)  # fmt: skip
SINE = Prepared(
    lambda systems: Item.objects.in_stock().filter(home_system__in=systems, type__needs_true_sine=True).order_by()
    .values_list("home_system_id"),
    systems=Asked.IDS,
)  # fmt: skip
SYSTEMS = Prepared(
    lambda systems: System.objects.filter(pk__in=systems).order_by("pk").values_list("pk", "name"), systems=Asked.IDS
)
SETS = Prepared(
    lambda sets: DriveSet.objects.filter(pk__in=sets).order_by("pk").values_list("pk", "name", "strict_order"),
    sets=Asked.IDS,
)


def _systems_of(system_ids: Collection[int]) -> tuple[facts.System, ...]:
    parts: dict[int, list[_Part]] = defaultdict(list)
    for row in PARTS(systems=system_ids):
        line, item = row[: -len(COLUMNS)], row[-len(COLUMNS) :]
        parts[line[0]].append(_Part(*line, Put._make(item) if item[0] else None))
    loose: dict[int, list[Put]] = defaultdict(list)
    for system, *rail in RAILS(systems=system_ids):
        loose[system].append(Put._make(rail))
    sine = {system for (system,) in SINE(systems=system_ids)}
    return tuple(
        facts.System(
            pk, name, rails=_rails(parts[pk], loose[pk]), needs_true_sine=pk in sine,
            stoppers=tuple(part.wanted for part in parts[pk] if part.show_stopper),
        )
        for pk, name in SYSTEMS(systems=system_ids)
    )  # fmt: skip


def _rails(parts: list[_Part], loose: list[Put]) -> tuple[facts.Wanted, ...] | None:
    """The rails listed among the parts; else what rails the system has. None where neither says anything."""
    listed = tuple(part.wanted for part in parts if part.is_required_rails)
    return listed or tuple(_exactly(rail) for rail in loose) or None
