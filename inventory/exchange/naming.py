"""The names a sheet uses for systems, sets, owners, places and cases, settled against the book and the sheet itself.

A target is a short text: `item:7` a thing of the book, `row:Tab!4` a row of this sheet, `make:NAME` something to add.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from rapidfuzz.distance import OSA

from inventory.exchange.known import Known
from inventory.exchange.lines import Line, by_field
from inventory.exchange.notices import Notices, Spot
from inventory.folding import fold
from inventory.models import Kind

NOWHERE = "none"
Matched = Mapping[str, int | None]  # a row's name to the item of the book it is, or None for a new thing
_HOLDS = {Kind.CASE, Kind.FRAME, Kind.VEHICLE}
_OURS = {"OURS", "OWN", "US", "INHOUSE", "HOUSE", "COMPANY", "OUROWN"}


@dataclass(slots=True)
class Names:
    """What each text of the sheet stands for."""

    cases: dict[str, str] = field(default_factory=dict)
    systems: dict[str, str] = field(default_factory=dict)
    sets: dict[str, str] = field(default_factory=dict)
    owners: dict[str, str] = field(default_factory=dict)
    places: dict[str, str] = field(default_factory=dict)
    house: str = ""  # the target for an empty owner
    rest: str = ""  # where things without a place and a home case stand


def settle_names(lines: list[Line], known: Known, matched: Matched, notices: Notices) -> Names:
    """Settle every name but the cases', which need the matches first."""
    names = Names()
    systems = {key: one.name for key, one in known.systems.items()}
    sets = {key: one.name for key, one in known.sets.items()}
    names.systems = _settled("system", lines, "home_system", systems, notices)
    names.sets = _settled("drive set", lines, "home_set", sets, notices)
    _owners(names, lines, known, notices)
    _places(names, lines, known, matched, notices)
    return names


def _settled(what: str, lines: list[Line], name: str, book: Mapping[str, str], notices: Notices) -> dict[str, str]:
    """Folded text to the name it stands for; one that is nearly a known one is asked."""
    found: dict[str, str] = {}
    firm: dict[str, str] = dict(book)
    for text, group in _by_size(by_field(lines, lambda line: line.text(name))):
        key = fold(text)
        if key in found:
            continue
        near = None if key in firm else nearest(key, firm)
        found[key] = _same_or_new(what, text, near, group, notices) if near else firm.get(key, text)
        firm.setdefault(key, found[key])
    return found


def _by_size(groups: dict[str, list[Line]]) -> Iterable[tuple[str, list[Line]]]:
    return sorted(groups.items(), key=lambda pair: (-len(pair[1]), pair[0]))


def nearest(key: str, firm: Mapping[str, str]) -> str | None:
    """A known name one slip away: a change, a loss, an extra letter or a swap. Numbers at the end must agree."""
    for other, name in firm.items():
        digits = "".join(filter(str.isdigit, key)).lstrip("0") == "".join(filter(str.isdigit, other)).lstrip("0")
        if digits and len(key) > 3 and OSA.distance(key, other, score_cutoff=1) <= 1:
            return name
    return None


def _same_or_new(what: str, text: str, near: str, group: list[Line], notices: Notices) -> str:
    answer = notices.ask(
        f"{what}:{fold(text)}", f"Is the {what} \u201c{text}\u201d the same as \u201c{near}\u201d?",
        [line.spot(_COLUMN[what]) for line in group],
        choices=[("same", f"yes, it is {near}"), ("new", f"no, {text} is another one")],
    )  # fmt: skip
    return near if answer == "same" else text


_COLUMN = {"system": "home_system", "drive set": "home_set", "owner": "owner"}


def _owners(names: Names, lines: list[Line], known: Known, notices: Notices) -> None:
    book = {key: one.name for key, one in known.owners.items()}
    names.house = known.ours.name if known.ours else ""
    for key, name in _settled("owner", lines, "owner", book, notices).items():
        names.owners[key] = "" if key in _OURS else name
    if not names.house and (any(not line.text("owner") for line in lines) or "" in names.owners.values()):
        names.house = notices.ask(
            "house", "What is your own organisation called? Things without another owner are its property.",
            [], free="text",
        )  # fmt: skip
    names.owners = {key: name or names.house for key, name in names.owners.items()}


def _places(names: Names, lines: list[Line], known: Known, matched: Matched, notices: Notices) -> None:
    for text, group in by_field(lines, lambda line: line.text("place")).items():
        key = fold(text)
        if key in names.places:
            continue
        found = known.places.get(key, [])
        if len(found) == 1:
            names.places[key] = f"place:{found[0].pk}"
        else:
            names.places[key] = _ask_place(
                text, [(p.pk, _path(p)) for p in found], [x.spot("place") for x in group], notices
            )
    homeless = [line for line in lines if not line.text("place") and not line.text("home_case")]
    bare = [line for line in homeless if matched.get(line.ref) not in known.placed]
    if bare:
        names.rest = _ask_rest(bare, known, notices)


def _path(place: object) -> str:
    parent = getattr(place, "parent", None)
    return f"{parent} / {place}" if parent else str(place)


def _ask_place(text: str, found: list[tuple[int, str]], spots: list[Spot], notices: Notices) -> str:
    known = "several places" if found else "no place"
    answer = notices.ask(
        f"place:{fold(text)}", f"The book knows {known} called \u201c{text}\u201d. What is it?",
        spots,
        choices=[(f"place:{pk}", path) for pk, path in found]
        + [
            (f"store:{text}", "a store of ours"), (f"venue:{text}", "a venue or a place of others"),
            (NOWHERE, "no place; leave it unknown"),
        ],
        holds_up=False,
    )  # fmt: skip
    return "" if answer == NOWHERE else answer


def _ask_rest(bare: list[Line], known: Known, notices: Notices) -> str:
    stores = [place for group in known.places.values() for place in group if place.kind == "store"]
    answer = notices.ask(
        "rest", "Where do the things without a home case and a place stand now? Name a store, or leave it unknown.",
        [line.spot("place") for line in bare],
        choices=[(f"place:{place.pk}", place.name) for place in stores[:20]] + [(NOWHERE, "unknown")],
        free="text", holds_up=False,
    )  # fmt: skip
    if not answer or answer == NOWHERE:
        return ""
    if answer.startswith("place:"):
        return answer
    same = known.places.get(fold(answer), [])
    return f"place:{same[0].pk}" if len(same) == 1 else f"store:{answer}"


def settle_cases(names: Names, lines: list[Line], known: Known, matched: Matched, notices: Notices) -> None:
    """What every home-case text stands for, once it is known which rows are known things."""
    rows = {fold(line.text("number")): line for line in lines if line.text("number")}
    for text, group in by_field(lines, lambda line: line.text("home_case")).items():
        names.cases[fold(text)] = _case(text, group, rows, known, matched, notices)
    _refuse_loops(names, lines, matched, notices)


def target_of(line: Line, matched: Matched) -> str:
    item = matched.get(line.ref)
    return f"item:{item}" if item else f"row:{line.ref}"


def _case(
    text: str, group: list[Line], rows: Mapping[str, Line], known: Known, matched: Matched, notices: Notices
) -> str:  # fmt: skip
    key = fold(text)
    spots = [line.spot("home_case") for line in group]
    if key in rows:
        return _holding(rows[key].kind in _HOLDS, text, target_of(rows[key], matched), spots, notices)
    label = known.labels.get(text.upper())
    item = known.numbered(text) or (label.item_id if label else None)
    if item:
        thing = known.items[item]
        return _holding(hasattr(thing.type, "container"), text, f"item:{item}", spots, notices)
    return _ask_case(text, rows, known, matched, spots, notices)


def _holding(holds: bool, text: str, target: str, spots: list[Spot], notices: Notices) -> str:
    if not holds:
        for spot in spots:
            notices.refuse(
                spot, f"{text} is no case, so nothing can live in it. Correct the number, or the kind of {text}."
            )
    return target


def _ask_case(
    text: str, rows: Mapping[str, Line], known: Known, matched: Matched, spots: list[Spot], notices: Notices
) -> str:  # fmt: skip
    near = [line for key, line in rows.items() if line.kind in _HOLDS and _is_near(key, fold(text))]
    others = [pk for key, pk in known.numbers.items() if key not in rows and _is_near(key, fold(text))][:5]
    choices = [(target_of(line, matched), f"it is {line.text('number')}") for line in near[:5]]
    choices += [(f"item:{pk}", f"it is {known.called[pk]}") for pk in others]
    choices += [(f"make:{text}", f"add a case {text}"), (NOWHERE, "no home case yet")]
    sentence = f"There is no case \u201c{text}\u201d in the book or in this sheet. What is it?"
    answer = notices.ask(f"case:{fold(text)}", sentence, spots, choices=choices)
    return "" if answer == NOWHERE else answer


def _is_near(key: str, other: str) -> bool:
    bare = [text.replace("0", "") for text in (key, other)]
    return bare[0] == bare[1] or OSA.distance(key, other, score_cutoff=1) <= 1


def _refuse_loops(names: Names, lines: list[Line], matched: Matched, notices: Notices) -> None:
    inside = {target_of(line, matched): names.cases.get(fold(line.text("home_case")), "") for line in lines}
    for line in lines:
        if _is_loop(target_of(line, matched), inside):
            notices.refuse(line.spot("home_case"), f"{line.called} would live inside itself. Correct the home case.")


def _is_loop(start: str, inside: Mapping[str, str]) -> bool:
    seen, step = set(), inside.get(start, "")
    while step and step not in seen:
        if step == start:
            return True
        seen.add(step)
        step = inside.get(step, "")
    return False
