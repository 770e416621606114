"""Items as answers name them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable
from typing import Any

from inventory.answers.book import Thing
from inventory.answers.refs import NAMED, codes_of, ref_of
from inventory.models import Compartment, Item
from inventory.models.things import is_lot
from inventory.prepared import Asked, Prepared

THING = (*NAMED, "type__kind", "type__is_lot", "quantity", "home_case_id", "type__container", "inside")


ITEMS = Prepared(lambda items: Item.objects.filter(pk__in=items).order_by().values_list(*THING), items=Asked.IDS)
COMPARTMENTS = Prepared(
    lambda containers: Compartment.objects.filter(container__in=containers).exclude(kind="pocket").order_by()
    .values_list("container", "label"),
    containers=Asked.IDS,
)  # fmt: skip


def things_of(items: Iterable[int]) -> dict[int, Thing]:
    """Items as answers name them, in three queries."""
    items = list(items)
    codes = codes_of(items)
    rows = ITEMS(items=items)
    single = _single({row[-2] for row in rows} - {None})
    return {row[0]: _thing(row, codes.get(row[0], ""), single.get(row[-2], frozenset())) for row in rows}


def unnamed(items: Iterable[int]) -> dict[int, Thing]:
    """The same without code and bays, in one query: for what only asks what lies in what."""
    return {row[0]: _thing(row, "", frozenset()) for row in ITEMS(items=list(items))}


def _thing(row: tuple[Any, ...], code: str, single: frozenset[str]) -> Thing:
    kind, of_lots, quantity, home_case, container, inside = row[len(NAMED) :]
    return Thing(
        ref=ref_of(code, *row[: len(NAMED)]), kind=kind, holds=container is not None, inside=inside,
        home_case=home_case, is_lot=is_lot(of_lots, quantity), quantity=quantity, single=single,
    )  # fmt: skip


def _single(containers: Collection[int]) -> dict[int, frozenset[str]]:
    """The bays and slots that hold one, by the kind of container."""
    found: dict[int, set[str]] = defaultdict(set)
    for container, label in COMPARTMENTS(containers=containers):
        found[container].add(label)
    return {container: frozenset(labels) for container, labels in found.items()}
