"""Systems and drive sets as the rules read them, and the limits in force on a day."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db.models import Q, QuerySet

from inventory.answers.loading import live
from inventory.models import DriveSet, Holding, Item, Kind, System, SystemPart, Verb
from inventory.prepared import Prepared
from inventory.unchanged import kept
from shipping.models import RuleLimit
from shipping.packing import facts
from shipping.packing.engine import default_limits
from shipping.planning.pieces import name_of
from shipping.planning.rows import place_words


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
    drives = Item.objects.filter(pk__in={pk for found in members.values() for pk in found}).select_related(
        "type", "holding__place__item__type"
    )
    by_id = {drive.pk: drive for drive in drives}
    return tuple(
        facts.DriveSet(one.pk, one.name, one.strict_order, one.pk in broken, _members(members[one.pk], by_id))
        for one in DriveSet.objects.filter(pk__in=set_ids).order_by("pk")
    )


def _members(bays: dict[int, str], by_id: dict[int, Item]) -> tuple[facts.Member, ...]:
    drives = [by_id[pk] for pk in bays if pk in by_id]
    found = [
        facts.Member(one.pk, name_of(one), bays[one.pk], place_words(getattr(one, "holding", None))) for one in drives
    ]
    return tuple(sorted(found, key=lambda member: (member.bay, member.item_id)))


def systems_of(system_ids: Collection[int]) -> tuple[facts.System, ...]:
    """The systems with their rails, their show-stoppers and whether anything of them needs a true sine wave."""
    return kept(("systems", frozenset(system_ids)), None, lambda: _systems_of(system_ids)) if system_ids else ()


def _systems_of(system_ids: Collection[int]) -> tuple[facts.System, ...]:
    parts: dict[int, list[SystemPart]] = defaultdict(list)
    for part in _telling_parts(system_ids):
        parts[part.system_id].append(part)
    loose: dict[int, list[Item]] = defaultdict(list)
    for rail in _rails_at_home(system_ids):
        loose[rail.home_system_id].append(rail)
    sine = set(Item.objects.in_stock().filter(home_system__in=system_ids, type__needs_true_sine=True).values_list(
        "home_system_id", flat=True))  # fmt: skip
    return tuple(
        facts.System(
            one.pk, one.name, rails=_rails(parts[one.pk], loose[one.pk]), needs_true_sine=one.pk in sine,
            stoppers=tuple(_wanted(part) for part in parts[one.pk] if part.show_stopper),
        )
        for one in System.objects.filter(pk__in=system_ids).order_by("pk")
    )  # fmt: skip


def _telling_parts(system_ids: Collection[int]) -> QuerySet[SystemPart]:
    """Only the show-stoppers and the rails it requires: the rules ask for no others."""
    rails = Q(item__type__kind=Kind.RAILS) | Q(item=None, type__kind=Kind.RAILS)
    asked = Q(show_stopper=True) | (rails & Q(necessity="required"))
    found = SystemPart.objects.filter(asked, system__in=system_ids)
    return found.select_related("type", "item__type", "item__holding__place__item__type")


def _rails_at_home(system_ids: Collection[int]) -> list[Item]:
    rails = Item.objects.in_stock().filter(home_system__in=system_ids, type__kind=Kind.RAILS)
    return list(rails.select_related("type", "holding__place__item__type").order_by("pk"))


def _rails(parts: list[SystemPart], loose: list[Item]) -> tuple[facts.Wanted, ...] | None:
    """The rails listed among the parts; else what rails the system has. None where neither says anything."""
    listed = [part for part in parts if _kind(part) == Kind.RAILS and part.necessity == "required"]
    if listed:
        return tuple(_wanted(part) for part in listed)
    found = tuple(facts.Wanted(name_of(rail), rail.pk, rail.type_id, 1, _where(rail)) for rail in loose)
    return found or None


def _kind(part: SystemPart) -> str:
    return (part.item.type if part.item else part.type).kind


def _wanted(part: SystemPart) -> facts.Wanted:
    if part.item is not None:
        return facts.Wanted(name_of(part.item), part.item_id, part.item.type_id, 1, _where(part.item))
    return facts.Wanted(str(part.type), None, part.type_id, part.quantity)


def _where(item: Item) -> str:
    holding: Holding | None = getattr(item, "holding", None)
    return place_words(holding)
