"""Cases as the rules read them: their shell, what is in them, what was looked at since they were opened."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal

from inventory import papers
from inventory.answers.loading import live, sealed_insides
from inventory.answers.seals import read_interior
from inventory.models import IssuedPaper, Item, Place, Verb
from inventory.unchanged import kept, part
from shipping.models import ConsignmentCase, Show
from shipping.packing.facts import Case, Expected, Piece, Proof
from shipping.packing.rules import RULES
from shipping.packing.rules.registry import FOR_THE_TYPE
from shipping.planning import pieces as inside
from shipping.planning import rows, wholes
from shipping.planning.rows import Moment, Told

WITH_CONTAINER = ("type__container__original_packaging_for", "type__container__compartments", "aliases")
CASE_LIST = "case-list"


@dataclass(frozen=True, slots=True)
class Past:
    """One case: was it ever sealed, when did something last go in or out, and what holds since it was last open."""

    sealed: bool
    changed: Moment | None
    weighed_kg: Decimal | None
    proofs: Mapping[str, Proof]


@dataclass(frozen=True, slots=True)
class Packed:
    """Cases with what is in them, before anything is said of their past; and what is held where, as in `Held`."""

    cases: tuple[Case, ...]
    case_of: Mapping[int, int]
    insides: Mapping[int, int]


@dataclass(frozen=True, slots=True)
class Story:
    """What the ledger says of the cases themselves."""

    pasts: Mapping[int, Past]
    measures: Mapping[tuple[int, str], Told]
    printed: Mapping[int, bool]
    seals: Mapping[int, str]


def cases_of(
    case_ids: Collection[int], at: datetime, show: Show | None, among: Collection[int] = ()
) -> tuple[Case, ...]:
    """The facts of these cases, in the order of their numbers; a constant number of queries.

    `among` are cases whose seals are known already, all together: those of these are then not read once more.
    """
    key = ("cases", frozenset(case_ids), show.pk if show else None)
    return kept(key, at, lambda: _cases_of(case_ids, at, show, among))


def _cases_of(case_ids: Collection[int], at: datetime, show: Show | None, among: Collection[int]) -> tuple[Case, ...]:
    """What is in them is kept apart: a seal that was opened makes their story anew, and nothing else."""
    key = ("packed", frozenset(case_ids), show.pk if show else None)
    packed = kept(key, at, lambda: _packed(case_ids, at, show))
    story = _story(packed, at, among)
    return tuple(_with_story(case, story) for case in packed.cases)


def _packed(case_ids: Collection[int], at: datetime, show: Show | None) -> Packed:
    items = Item.objects.filter(pk__in=case_ids).select_related("type__container").order_by("number", "pk")
    items = list(items.prefetch_related(*WITH_CONTAINER))
    held = inside.held_by([item.pk for item in items])
    faults, first_off = rows.fault_words([*(item.pk for item in items), *held.case_of], at), _first_off(case_ids)
    belonging = inside.belonging_in(case_ids, show)
    homes = inside.homes({*belonging, *held.case_of}, show)
    missing = inside.missing_from(belonging, held, homes)
    contents = inside.pieces_by_case(held, _known(held, faults, at, homes))
    cases = [
        _case(item, contents.get(item.pk, []), missing.get(item.pk, []), faults, item.pk in first_off) for item in items
    ]
    return Packed(tuple(cases), held.case_of, held.insides)


def _first_off(case_ids: Collection[int]) -> set[int]:
    return set(ConsignmentCase.objects.filter(case__in=case_ids, first_off=True).values_list("case_id", flat=True))


@dataclass(frozen=True, slots=True)
class Shell:
    """A case from outside: the seal that holds, and what the scale said since it was last open, in kg."""

    seal: str = ""
    weighed_kg: Decimal | None = None


def shells_of(case_ids: Collection[int], at: datetime) -> dict[int, Shell]:
    """Seal and scale reading of each of these cases; a constant number of queries."""
    held = inside.held_by(case_ids)
    pasts, seals = pasts_of(case_ids, held.insides, held.case_of, at), seals_of(case_ids, at)
    return {one: Shell(seals.get(one, ""), pasts[one].weighed_kg) for one in case_ids}


def seals_of(case_ids: Collection[int], at: datetime) -> dict[int, str]:
    """The seal that holds on each of these cases, by the ledger's own rules; an open case is not in it."""
    ids = frozenset(case_ids)
    return dict(part(("seals", ids), at, lambda at: _seals_of(ids, at)))


def _seals_of(case_ids: Collection[int], at: datetime) -> dict[int, str]:
    book, sealed = sealed_insides(case_ids, at)
    interiors = {ident: read_interior(book, ident) for ident in sealed}
    return {i: one.seal.seal for i, one in interiors.items() if one.is_sealed and one.seal}


def _known(
    held: inside.Held, faults: Mapping[int, str], at: datetime, homes: Mapping[int, tuple[int, str]]
) -> inside.Known:
    drives = [row.item_id for row in held.rows if row.item.type.kind == "drive"]
    return inside.Known(faults, wholes.membership(drives, at), homes)


def _story(packed: Packed, at: datetime, among: Collection[int]) -> Story:
    case_ids = [case.id for case in packed.cases]
    pasts = pasts_of(case_ids, packed.insides, packed.case_of, at)
    sealed = [case for case, past in pasts.items() if past.sealed]
    return Story(
        pasts=pasts,
        measures=_measures({case.type_id for case in packed.cases}, at),
        printed=_printed(case_ids, {case: one.changed for case, one in pasts.items() if one.changed}, at),
        seals=seals_of(among if set(sealed) <= set(among) else sealed, at) if sealed else {},
    )


def pasts_of(
    case_ids: Collection[int], insides: Mapping[int, int], case_of: Mapping[int, int], at: datetime
) -> dict[int, Past]:
    """Of each of these cases, with what is held in them now, as `Held` has it; a constant number of queries."""
    asked = frozenset(case_ids), frozenset(insides.items()), frozenset(case_of.items())
    return part(("pasts", *asked), at, lambda at: _pasts_of(*asked, at))


def _pasts_of(
    case_ids: Collection[int], insides: Iterable[tuple[int, int]], case_of: Iterable[tuple[int, int]], at: datetime
) -> dict[int, Past]:
    own = rows.own_entries(case_ids, at)
    sealed = [entry.happened_at for entries in own.values() for entry in entries if entry.verb == Verb.SEALED]
    around = dict(insides) | dict(Place.objects.filter(item__in=case_ids).values_list("pk", "item_id"))
    changed = rows.last_changed(around, at)
    looked = rows.looked_at(dict(case_of), min(sealed), at) if sealed else {}
    return {case: _past(own.get(case, []), changed.get(case), looked.get(case)) for case in case_ids}


def _past(own: Sequence[Told], changed: Moment | None, looked: Moment | None) -> Past:
    opened = opened_at(own, changed, looked)
    sealed = any(entry.verb == Verb.SEALED for entry in own)
    return Past(sealed, changed, _weighed(own, opened), proofs_of(own, opened))


def _measures(type_ids: Collection[int], at: datetime) -> dict[tuple[int, str], Told]:
    """Measures taken once for each case type, which hold for ever: the newest look at any case of it."""
    for_types = [one.id for one in RULES.values() if one.lasts == FOR_THE_TYPE]
    measured = live(at).filter(verb=Verb.CHECKED, rule__in=for_types, label__item__type__in=type_ids)
    return {(one.type, one.rule): one for one in rows.told(measured)}


def _printed(case_ids: Collection[int], changed: Mapping[int, Moment], at: datetime) -> dict[int, bool]:
    """Of each case whose list was printed: is the newest print still what would be printed now?

    A print after the last change is. An older one is compared line by line: what came out and went back is no change.
    """
    issued = IssuedPaper.objects.filter(item__in=case_ids, kind=CASE_LIST, issued_at__lte=at).order_by("issued_at")
    newest = {paper.item_id: paper for paper in issued}
    old = [paper for case, paper in newest.items() if case in changed and paper.issued_at < changed[case][0]]
    stale = papers.stale(old, at)
    return {case: paper.pk not in stale for case, paper in newest.items()}


def _with_story(case: Case, story: Story) -> Case:
    """A case with what holds of it by what happened to it."""
    past, printed = story.pasts[case.id], story.printed.get(case.id)
    measures = {rule: _proof(entry) for (kind, rule), entry in story.measures.items() if kind == case.type_id}
    return replace(
        case, weighed_kg=past.weighed_kg, seal=story.seals.get(case.id, ""), list_printed=printed is not None,
        list_current=bool(printed), proofs=measures | past.proofs,
    )  # fmt: skip


def _case(
    item: Item, contents: list[Piece], missing: list[Expected], faults: Mapping[int, str], first_off: bool
) -> Case:
    container = item.type.container
    return Case(
        id=item.pk, number=str(item), type_id=item.type_id, pieces=tuple(contents), missing=tuple(missing),
        tare_kg=container.tare_kg, max_gross_kg=container.max_gross_kg,
        length_mm=item.type.length_mm, width_mm=item.type.width_mm, height_mm=item.type.height_mm,
        slots=tuple(part.label for part in container.compartments.all()),
        rack_units=container.rack_units, usable_depth_mm=container.usable_depth_mm, for_drives=container.for_drives,
        strict_order=container.strict_order, wheels=container.wheels, max_on_top_kg=item.type.max_on_top_kg,
        packaging_for=frozenset(kind.pk for kind in container.original_packaging_for.all()),
        fault=faults.get(item.pk, ""), first_off=first_off,
        old_numbers=tuple(sorted(alias.number for alias in item.aliases.all())),
    )  # fmt: skip


def _other_seal(entry: Told, own: Sequence[Told]) -> bool:
    """Did somebody see another number on the case than the one put on before?"""
    if entry.verb != Verb.SEEN or not entry.seal:
        return False
    before = [one.seal for one in own if one.verb == Verb.SEALED and rows.moment(one) < rows.moment(entry)]
    return bool(before) and before[-1] != entry.seal


def opened_at(own: Sequence[Told], changed: Moment | None, looked: Moment | None) -> Moment | None:
    """The last time the case stood open: evidence and scale readings from before it no longer count."""
    seals = [entry for entry in own if entry.verb in (Verb.SEALED, Verb.SEAL_BROKEN)]
    opening = [entry for entry in own if entry.verb == Verb.SEAL_BROKEN or _other_seal(entry, own)]
    broken = rows.newest(rows.moment(entry) for entry in opening)
    last_seal = rows.newest(rows.moment(entry) for entry in seals if entry.verb == Verb.SEALED)
    opened = looked if looked is not None and last_seal is not None and looked > last_seal else None
    return rows.newest([changed, broken, opened])


def _holds(entry: Told, opened: Moment | None) -> bool:
    return opened is None or rows.moment(entry) > opened


def _weighed(own: Iterable[Told], opened: Moment | None) -> Decimal | None:
    found = [entry.mass_g for entry in own if entry.verb == Verb.WEIGHED and _holds(entry, opened)]
    return Decimal(found[-1]) / 1000 if found else None


def proofs_of(own: Iterable[Told], opened: Moment | None) -> dict[str, Proof]:
    """The newest evidence for each rule that still holds."""
    checks = [entry for entry in own if entry.verb == Verb.CHECKED and entry.rule and _holds(entry, opened)]
    return {entry.rule: _proof(entry) for entry in checks}


def _proof(entry: Told) -> Proof:
    return Proof(entry.value or "yes", entry.by, str(entry.pk))
