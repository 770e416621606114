"""The list a load crosses a border under. A prompt for whoever signs it, never an approval."""

from __future__ import annotations

import re
from collections.abc import Iterator

from shipping.packing.facts import BorderLine, BorderList, Load, Severity
from shipping.packing.rules.registry import Ask, Said, rule, unknown, wrong

CARNET = "handbooks for general lists of goods, from secondary pages; ask the issuing body"
VAGUE = ("box of", "boxes of", "assorted", "various", "accessories", "misc", "miscellaneous", "sundry", "lot of", "etc")
# Codes people write that are not in ISO 3166-1, and what is meant.
NOT_A_COUNTRY = {"UK": "GB", "EL": "GR", "XK": "", "EU": ""}


def vague_word(description: str) -> str:
    """The first word of a description that customs people turn down, or nothing. "Set of cables" may stand."""
    text = description.lower()
    return next((word for word in VAGUE if word in text and re.search(rf"\b{re.escape(word)}\b", text)), "")


def one_slip_apart(one: str, other: str) -> bool:
    """Do two serials differ by one changed character, or by two neighbours exchanged?"""
    if one == other or len(one) != len(other):
        return False
    differ = [i for i in range(len(one)) if one[i] != other[i]]
    if len(differ) == 1:
        return True
    return (
        len(differ) == 2
        and differ[1] == differ[0] + 1
        and one[differ[0]] == other[differ[1]]
        and (one[differ[1]] == other[differ[0]])
    )


@rule("45", Severity.BLOCK, CARNET, decision_only=True)
def lines_concrete(load: Load) -> Iterator[Said | Ask]:
    """Each line of a border list is one concrete thing, with pieces, mass, value and country of origin."""
    for line in load.border.lines if load.border else ():
        where = f"Line {line.line}"
        if word := vague_word(line.description):
            yield wrong(
                load.border,
                f"{where} says “{word}”: {line.description}.",
                "Name the thing: maker, model, what it is.",
                line=line.line,
                description=line.description,
            )
        if line.origin.upper() in NOT_A_COUNTRY or (line.origin and not re.fullmatch("[A-Z]{2}", line.origin)):
            yield wrong(
                load.border,
                f"{where}: {line.origin} is no two-letter country code.",
                _country(line),
                line=line.line,
                origin=line.origin,
            )
        if line.value is not None and line.value <= 0:
            yield wrong(
                load.border, f"{where} has no value above zero.", "Enter what it costs to replace.", line=line.line
            )
        lacks = [name for name, value in _measures(line) if value in (None, "")]
        if lacks:
            yield unknown(
                load.border,
                f"{where} ({line.description}) has no {' and no '.join(lacks)}.",
                "Enter it with the item's type.",
                line=line.line,
                lacks=",".join(lacks),
            )


def _measures(line: BorderLine) -> list[tuple[str, object]]:
    return [("mass", line.mass_kg), ("value", line.value), ("currency", line.currency), ("origin", line.origin)]


def _country(line: BorderLine) -> str:
    meant = NOT_A_COUNTRY.get(line.origin.upper(), "")
    return f"Write {meant}." if meant else "Write the two letters of ISO 3166-1."


@rule("45", Severity.BLOCK, CARNET, decision_only=True)
def serials_on_the_list(load: Load) -> Iterator[Said | Ask]:
    """The serial on a line is the serial on the thing: no digit exchanged, none left out."""
    for line in load.border.lines if load.border else ():
        if line.item_id is None:
            if line.serial and line.near:
                yield wrong(
                    load.border,
                    f"Line {line.line} says {line.serial}; ours is {line.near}.",
                    f"Write {line.near}.",
                    line=line.line,
                    serial=line.serial,
                )
            elif line.serial:
                yield unknown(
                    load.border,
                    f"Line {line.line}: no thing of ours carries {line.serial}.",
                    "Choose the thing this line means.",
                    line=line.line,
                    serial=line.serial,
                )
            continue
        if line.our_serial and not line.serial:
            yield wrong(
                load.border,
                f"Line {line.line} ({line.description}) gives no serial; the thing carries one.",
                f"Write {line.our_serial}.",
                line=line.line,
            )
        elif line.serial != line.our_serial:
            slip = " Two digits are exchanged or one is wrong." if one_slip_apart(line.serial, line.our_serial) else ""
            yield wrong(
                load.border,
                f"Line {line.line} says {line.serial}; the thing carries {line.our_serial or 'no serial'}.{slip}",
                f"Write {line.our_serial or 'NSN'}.",
                line=line.line,
                serial=line.serial,
                ours=line.our_serial,
            )


@rule("45", Severity.BLOCK, CARNET, decision_only=True)
def hired_with_consent(load: Load) -> Iterator[Said | Ask]:
    """Hired things cross with their owner's consent."""
    for line in load.border.lines if load.border else ():
        if line.hired_from and not line.owner_consents:
            yield wrong(
                load.border,
                f"Line {line.line} belongs to {line.hired_from}, who has not consented.",
                "Ask the owner, note the consent.",
                line=line.line,
                owner=line.hired_from,
            )
        elif line.item_id is None and not line.serial:
            yield unknown(
                load.border,
                f"Line {line.line} names no thing of ours: whose it is, is not known.",
                "Choose the thing this line means.",
                line=line.line,
            )


@rule("45", Severity.BLOCK, CARNET, decision_only=True)
def listed_at_the_border(load: Load) -> Iterator[Said | Ask]:
    """Each serialised thing that crosses a border is on the issued list."""
    leg = load.leg
    if leg is None or not leg.crosses_border or not load.cases:
        return
    if load.border is None or not load.border.issued:
        yield wrong(
            leg, f"{leg.name} crosses a border and no list is issued.", "Issue the border list first.", leg=leg.id
        )
        return
    yield from _not_listed(load, load.border)


def _not_listed(load: Load, border: BorderList) -> Iterator[Said | Ask]:
    listed = {line.item_id for line in border.lines if line.item_id is not None}
    for case, piece in load.each():
        if piece.id in listed or load.leg is None or piece.is_lot:
            continue
        if piece.serial:
            yield wrong(
                load.leg,
                f"{piece.name} in {case.number} is not on border list {border.number}.",
                "Take it off this leg, or have a list issued that names it.",
                piece=piece.id,
                list=border.id,
            )
        elif piece.serials_required or piece.serial_unreadable:
            yield unknown(
                load.leg,
                f"{piece.name} in {case.number} has no readable serial, and is on no line.",
                "Enter its serial, or leave it.",
                piece=piece.id,
            )
