"""Which row is which thing of the book. Never by position; where it could be the same, a person is asked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from rapidfuzz.distance import OSA

from inventory.exchange.known import Known
from inventory.exchange.lines import Line
from inventory.exchange.naming import Names
from inventory.exchange.notices import Notices
from inventory.exchange.types import ONE_BY_ONE, TypePlan
from inventory.folding import fold, fold_confusable
from inventory.models import Item, ItemType


@dataclass(slots=True)
class Matches:
    """Row name to the item it is; a row that is not in it is a new thing, or still asked."""

    items: dict[str, int | None] = field(default_factory=dict)
    adopts: dict[str, str] = field(default_factory=dict)  # row name to a blank code printed ahead
    asked: set[str] = field(default_factory=set)

    def take(self, line: Line, item: int) -> None:
        self.items[line.ref] = item

    @property
    def taken(self) -> set[int]:
        return {item for item in self.items.values() if item}


def identity_of(line: Line) -> str:
    return f"{fold(line.text('maker'))}|{fold(line.serial)}"


def type_key(line: Line) -> str:
    return ItemType.make_key(line.text("maker"), line.model)


def match_named(lines: list[Line], known: Known, notices: Notices) -> Matches:
    """By code, else maker and serial, else number."""
    matches = Matches()
    _refuse_twice(lines, notices)
    _by_code(lines, known, matches, notices)
    identities = known.by_identity()
    for line in lines:
        if line.ref in matches.items:
            continue
        item = identities.get(identity_of(line)) if line.serial else None
        by_number = known.numbered(line.text("number")) if line.text("number") else None
        if item and by_number and item != by_number:
            notices.refuse(line.spot("number"), _TWO.format(line.serial, line.text("number")))
        elif item or by_number:
            matches.take(line, item or by_number or 0)
    _refuse_same_item(lines, matches, notices)
    _check_serials(lines, known, matches, notices)
    return matches


_TWO = "The book knows the serial {} and the number {} as two different things. Correct one of them."


def _refuse_twice(lines: list[Line], notices: Notices) -> None:
    """A code, a number, or a serial of one maker stands on one row only."""
    keys = {
        "code": lambda line: line.text("code").upper(),
        "number": lambda line: fold(line.text("number")),
        "serial": lambda line: identity_of(line) if line.serial else "",
    }
    for name, key in keys.items():
        first: dict[str, Line] = {}
        for line in lines:
            text = key(line)
            if text and text in first:
                other = first[text].spot(name).where
                notices.refuse(
                    line.spot(name), f"The same {name} stands in {other}. Each thing needs one row of its own."
                )
            elif text:
                first[text] = line


def _by_code(lines: list[Line], known: Known, matches: Matches, notices: Notices) -> None:
    coded = [line for line in lines if line.text("code")]
    codes = [line.text("code").upper() for line in coded]
    for line, code in zip(coded, codes, strict=True):
        label = known.labels.get(code)
        if label is None:
            notices.refuse(
                line.spot("code"), f"{code} is no code of this book. Correct it, or clear it for a new thing."
            )
        elif label.item_id:
            matches.take(line, label.item_id)
        else:
            matches.adopts[line.ref] = label.code


def _refuse_same_item(lines: list[Line], matches: Matches, notices: Notices) -> None:
    first: dict[int, Line] = {}
    for line in lines:
        item = matches.items.get(line.ref)
        if item and item in first:
            notices.refuse(
                line.spot("model"), f"This is the same thing as row {first[item].row + 1}. Keep one of the rows."
            )
        elif item:
            first[item] = line


def _check_serials(lines: list[Line], known: Known, matches: Matches, notices: Notices) -> None:
    """A known thing with another serial in the sheet: corrected, or the wrong row?"""
    for line in lines:
        item = known.items.get(matches.items.get(line.ref) or 0)
        if item is None or not line.serial or not item.serial or fold(line.serial) == item.serial_key:
            continue
        answer = notices.ask(
            f"reserial:{line.ref}",
            f"In the book {item} has the serial {item.serial}; here it is {line.serial}. What is right?",
            [line.spot("serial")],
            choices=[("sheet", f"{line.serial}: the book was wrong"), ("book", f"{item.serial}: keep it")],
        )  # fmt: skip
        if answer != "sheet":
            line.serial = ""


def is_lot(line: Line, plan: TypePlan) -> bool:
    """By its kind column, else its type's flag, else no serial and more than one."""
    return line.says_lot or (plan.is_lot and not line.serial) or (not line.serial and (line.quantity or 1) > 1)


def match_alike(
    lines: list[Line], types: Mapping[str, TypePlan], names: Names, known: Known, matches: Matches, notices: Notices
) -> None:
    """Lots by type and home case; things that nothing tells apart as a multiset; what is left over is asked."""
    _refuse_lots(lines, types, names, notices)
    groups: dict[tuple[str, str], list[Line]] = {}
    for line in lines:
        if line.ref not in matches.items and not line.serial and not line.text("number"):
            groups.setdefault((type_key(line), home_of(line, names)), []).append(line)
    bare = _bare(known, matches.taken)
    for key, group in groups.items():
        here = bare.get(key, [])
        for line in sorted(group, key=lambda one: _set_words(one)):
            same = next((item for item in here if _set_name(item) == _set_words(line)), None) or (
                here[0] if here else None
            )
            if same is not None:
                here.remove(same)
                matches.take(line, same.pk)
    _ask_leftovers(lines, types, names, known, matches, notices)


def home_of(line: Line, names: Names) -> str:
    return names.cases.get(fold(line.text("home_case")), "") if line.text("home_case") else ""


def _bare(known: Known, taken: set[int]) -> dict[tuple[str, str], list[Item]]:
    """Things of the book without serial and number, by type and home case."""
    found: dict[tuple[str, str], list[Item]] = {}
    for item in sorted(known.items.values(), key=lambda one: one.pk):
        if not item.serial and not item.number and not item.retired_at and item.pk not in taken:
            home = f"item:{item.home_case_id}" if item.home_case_id else ""
            found.setdefault((item.type.key, home), []).append(item)
    return found


def _set_words(line: Line) -> str:
    return fold(line.text("home_set")) + "|" + fold(line.text("name"))


def _set_name(item: Item) -> str:
    return fold(item.home_set.name if item.home_set else "") + "|" + fold(item.name)


def _refuse_lots(lines: list[Line], types: Mapping[str, TypePlan], names: Names, notices: Notices) -> None:
    first: dict[tuple[str, str], Line] = {}
    for line in lines:
        plan = types[type_key(line)]
        if line.serial or not is_lot(line, plan):
            continue
        if plan.kind in ONE_BY_ONE and not line.says_lot:
            notices.refuse(
                line.spot("quantity"), f"{plan.called}: each {plan.kind} needs a row and a serial or number of its own."
            )
            continue
        key = (type_key(line), home_of(line, names))
        if key in first:
            notices.refuse(
                line.spot("quantity"), f"The same lot stands in row {first[key].row + 1}. Put both on one row."
            )
        first.setdefault(key, line)


def _ask_leftovers(
    lines: list[Line], types: Mapping[str, TypePlan], names: Names, known: Known, matches: Matches, notices: Notices
) -> None:
    """One known thing that no row is, and one new row that could be it: ask."""
    taken = matches.taken
    free = [item for item in known.items.values() if item.pk not in taken and not item.retired_at]
    for line in lines:
        if line.ref in matches.items:
            continue
        likely = [item for item in free if item.pk not in matches.taken and _could_be(line, item, names, known)]
        if likely:
            _ask_same(line, likely[:5], matches, notices)


def _could_be(line: Line, item: Item, names: Names, known: Known) -> bool:
    same_home = home_of(line, names) == (f"item:{item.home_case_id}" if item.home_case_id else "")
    if line.text("number") and item.number:
        return False
    if line.serial and item.serial:
        return _near_serials(line, item, known)
    if item.type.key != type_key(line):
        return False
    if line.serial or item.serial:
        return same_home and (item.pk in known.earlier or not item.serial)
    return item.pk in known.earlier


def _near_serials(line: Line, item: Item, known: Known) -> bool:
    """The same serial where one side names no maker; a misread one; or one slip away on a sheet seen before."""
    key = fold(line.serial)
    if key == item.serial_key:
        return not (line.text("maker") and item.type.maker)
    if item.type.key != type_key(line) or len(key) < 4:
        return False
    if fold_confusable(line.serial) == item.serial_skeleton:
        return True
    return item.pk in known.earlier and OSA.distance(key, item.serial_key, score_cutoff=1) <= 1


def _ask_same(line: Line, likely: list[Item], matches: Matches, notices: Notices) -> None:
    choices = [(f"item:{item.pk}", f"it is {_described(item)}") for item in likely]
    answer = notices.ask(
        f"same:{line.ref}", f"Could {line.called} be a thing the book knows already?", [line.spot("model")],
        choices=[*choices, ("new", "no, it is another thing")],
    )  # fmt: skip
    if answer.startswith("item:"):
        matches.take(line, int(answer.removeprefix("item:")))
    elif not answer:
        matches.asked.add(line.ref)


def _described(item: Item) -> str:
    home = f" at home in {item.home_case}" if item.home_case else " without a home case"
    return f"{item.called}{home}"
