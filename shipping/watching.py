"""What a dock view lives on: who did what last, and whether anything at all has changed since it was looked at."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.core.cache import cache

from inventory.accepting import waiting
from inventory.answers.history import sentence_of
from inventory.answers.loading import live
from inventory.models import Entry, Holding, Verb
from shipping.boards import Masses, masses_of
from shipping.models import ConsignmentCase, Leg

MOST = 8
MASSES_FOR = 30  # seconds
LATE = timedelta(minutes=2)
TOLD = (
    Verb.LOADED, Verb.UNLOADED, Verb.DEPARTED, Verb.ARRIVED, Verb.PLACED, Verb.PACKED, Verb.SEEN, Verb.FOUND, Verb.LEFT,
    Verb.MISSED, Verb.SEALED, Verb.SEAL_BROKEN, Verb.FAULTED, Verb.COUNTED, Verb.RECEIVED, Verb.HANDED_OVER,
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Act:
    """One thing that somebody did for this show; `late` when its phone could send it only afterwards."""

    entry: str
    thing: str
    sentence: str
    at: datetime
    late: datetime | None


def newest(reference: str, at: datetime) -> list[Act]:
    """What crews did last for this show, newest first."""
    rows = _newest(reference, at).select_related("label__item__type", "place__item__type", "person", "drive_set")
    return [_act(row) for row in rows[:MOST]]


def _newest(reference: str, at: datetime) -> Any:
    return live(at).filter(reference=reference, verb__in=TOLD).order_by("-happened_at", "-id")


def _act(row: Entry) -> Act:
    item = row.label.item if row.label else None
    thing = str(item) if item else row.label.code if row.label else ""
    row.reference = ""  # the page's own show: not said again in each line
    late = row.received_at if row.received_at - row.happened_at > LATE and not row.stated else None
    return Act(str(row.pk), thing, sentence_of(row), row.happened_at, late)


def remembered_masses(ids: Iterable[int], at: datetime, leg: Leg) -> Masses:
    """The cases' masses as weighed at most half a minute ago: what is in them hardly changes while they are loaded."""
    wanted, key = set(ids), f"masses-of-leg-{leg.pk}"
    known: Masses | None = cache.get(key)
    if known is None or not wanted <= known.keys():
        known = masses_of(wanted, at, leg)
        cache.set(key, known, MASSES_FOR)
    return known


def stamp(leg: Leg, who: str, phones: Iterable[object], at: datetime) -> str:
    """Changes whenever the dock view of this leg would read differently to this person, and once a minute for its ages.

    A few small queries instead of the whole view: places of its cases, its list, the newest acts, the phones' own
    words and what is held. Masses and photos follow within the minute.
    """
    reference = leg.consignment.show.code
    lines = ConsignmentCase.objects.filter(consignment=leg.consignment_id).order_by("pk")
    listed = list(lines.values_list("case_id", "to_room", "first_off"))
    places = Holding.objects.filter(item__in=[case for case, *_ in listed]).order_by("item")
    aboard = Holding.objects.filter(place__item=leg.vehicle_id).order_by("item") if leg.vehicle_id else []
    facts = [
        who, f"{at:%Y-%m-%d %H:%M}", leg.vehicle_id, leg.road_id, leg.to_place_id, listed,
        [(row.item_id, row.entry_id) for row in (*places, *aboard)],
        list(_newest(reference, at).values_list("pk", flat=True)[:MOST]), list(phones),
        [row.pk for row in waiting(reference)],
    ]  # fmt: skip
    return hashlib.sha256(repr(facts).encode()).hexdigest()[:24]
