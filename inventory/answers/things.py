"""Items as answers name them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable
from typing import Any

from django.db.models import F

from inventory.answers.book import Thing
from inventory.answers.values import ItemRef
from inventory.models import Compartment, Item, Label
from inventory.models.catalogue import type_words
from inventory.models.things import called_by
from inventory.prepared import Asked, Prepared

THING = (
    "pk", "number", "name", "serial", "type__maker", "type__name", "type__kind", "type__is_lot", "quantity",
    "home_case_id", "type__container", "inside",
)  # fmt: skip


CODES = Prepared(
    lambda items: Label.objects.filter(item__in=items).order_by(F("retired_at").desc(nulls_last=True), "pk")
    .values_list("item", "code"),
    items=Asked.IDS,
)  # fmt: skip
ITEMS = Prepared(lambda items: Item.objects.filter(pk__in=items).order_by().values_list(*THING), items=Asked.IDS)
COMPARTMENTS = Prepared(
    lambda containers: Compartment.objects.filter(container__in=containers).exclude(kind="pocket").order_by()
    .values_list("container", "label"),
    containers=Asked.IDS,
)  # fmt: skip


def things_of(items: Iterable[int]) -> dict[int, Thing]:
    """Items as answers name them, in three queries."""
    items = list(items)
    codes: dict[int, str] = dict(CODES(items=items))
    rows = ITEMS(items=items)
    single = _single({row[-2] for row in rows} - {None})
    return {row[0]: _thing(row, codes.get(row[0], ""), single.get(row[-2], frozenset())) for row in rows}


def _thing(row: tuple[Any, ...], code: str, single: frozenset[str]) -> Thing:
    pk, number, name, serial, maker, kind_name, kind, is_lot, quantity, home_case, container, inside = row
    called = called_by(name or type_words(maker, kind_name), serial)
    return Thing(
        ref=ItemRef(pk, code, number or "", called, serial), kind=kind, holds=container is not None, inside=inside,
        home_case=home_case, is_lot=is_lot or quantity != 1, quantity=quantity, single=single,
    )  # fmt: skip


def _single(containers: Collection[int]) -> dict[int, frozenset[str]]:
    """The bays and slots that hold one, by the kind of container."""
    found: dict[int, set[str]] = defaultdict(set)
    for container, label in COMPARTMENTS(containers=containers):
        found[container].add(label)
    return {container: frozenset(labels) for container, labels in found.items()}
