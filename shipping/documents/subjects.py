"""What papers are about, found by what stands on the paper: a number, a code, a name, an act."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from uuid import UUID

from django.db import models

from inventory.answers.custody_lines import HANDINGS
from inventory.models import DriveSet, Entry, Item, Release, ReleaseRequest, System, Wipe
from shipping.documents.around import WORDS
from shipping.models import BorderList, Leg, Show


@dataclass(frozen=True, slots=True)
class WipeJob:
    """One wipe of one or more drives together."""

    job: UUID


@dataclass(frozen=True, slots=True)
class Handing:
    """One act by which things changed hands."""

    act: UUID


Subject = Item | Show | Leg | DriveSet | System | WipeJob | ReleaseRequest | Release | Handing | BorderList
Found = Mapping[str, Subject]


def things() -> models.QuerySet[Item]:
    related = Item.objects.select_related(*WORDS)
    return related.prefetch_related("labels", "type__container__compartments")


def _shows(names: Collection[str]) -> Found:
    return {show.code: show for show in Show.objects.filter(code__in=names).select_related("venue", "lead")}


def _legs(names: Collection[str]) -> Found:
    found = Leg.objects.filter(pk__in=_numbers("leg ", names))
    words = ("consignment__show", "vehicle__type__container", "from_place", "to_place")
    return {f"leg {leg.pk}": leg for leg in found.select_related(*words)}


def _sets(names: Collection[str]) -> Found:
    return {one.slug: one for one in DriveSet.objects.filter(slug__in=names).select_related("host")}


def _systems(names: Collection[str]) -> Found:
    return {one.slug: one for one in System.objects.filter(slug__in=names)}


def _jobs(names: Collection[str]) -> Found:
    jobs = Wipe.objects.filter(job__in=_ids(names)).values_list("job", flat=True).distinct().order_by()
    return {str(job): WipeJob(job) for job in jobs}


def _handings(names: Collection[str]) -> Found:
    acts = Entry.objects.filter(act__in=_ids(names), verb__in=HANDINGS).values_list("act", flat=True)
    return {str(act): Handing(act) for act in acts.distinct().order_by()}


def _requests(names: Collection[str]) -> Found:
    found = ReleaseRequest.objects.filter(pk__in=_numbers("request ", names)).select_related("person__organisation")
    return {f"request {one.pk}": one for one in found}


def _releases(names: Collection[str]) -> Found:
    found = Release.objects.filter(pk__in=_numbers("release ", names))
    return {f"release {one.pk}": one for one in found.select_related("person__organisation", "withdrawal", "drive_set")}


def _border_lists(names: Collection[str]) -> Found:
    found = BorderList.objects.filter(pk__in=_numbers("list ", names)).select_related("show")
    return {f"list {one.pk}": one for one in found}


FINDERS: Mapping[str, Callable[[Collection[str]], Found]] = {
    "show": _shows,
    "leg": _legs,
    "set": _sets,
    "system": _systems,
    "wipe": _jobs,
    "hand-over": _handings,
    "request": _requests,
    "release": _releases,
    "border list": _border_lists,
}


def _numbers(word: str, names: Collection[str]) -> set[int]:
    """The keys in subjects like `leg 7`."""
    tails = (name.removeprefix(word).strip() for name in names)
    return {int(tail) for tail in tails if tail.isdecimal() and tail.isascii() and len(tail) < 10}


def _ids(names: Collection[str]) -> set[UUID]:
    found = set()
    for name in names:
        try:
            found.add(UUID(name))
        except ValueError:
            continue
    return found
