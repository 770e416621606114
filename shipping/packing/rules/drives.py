"""Drives, their boxes and their order."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from decimal import Decimal

from shipping.packing.facts import Case, DriveSet, Load, Piece, Severity
from shipping.packing.rules.registry import FOR_THE_TYPE, Ask, Limit, Said, ask, rule, unknown, wrong

HANDBOOK = "handbooks of frames in general; common practice"


@rule("1", Severity.BLOCK, HANDBOOK, asks="a photo of the open bays")
def drives_out(load: Load) -> Iterator[Said | Ask]:
    """Removable drives are out of the frame before it travels."""
    for case, frame in load.each("frame"):
        if frame.bays is None:
            yield unknown(
                case, f"Nobody has said what bays {frame.name} has.", "Enter its bays with its type.", frame=frame.id
            )
            continue
        inside = [piece for piece in case.of_kind("drive") if piece.within == frame.id]
        for drive in inside:
            bay = f" in bay {drive.bay}" if drive.bay else ""
            yield wrong(
                case,
                f"{drive.name} is still fitted in {frame.name}{bay}.",
                "Pull it and put it in its drive box.",
                frame=frame.id,
                drive=drive.id,
            )
        if frame.bays and not inside:
            yield ask(
                case,
                f"Are the bays of {frame.name} empty?",
                f"The bays of {frame.name} are not empty.",
                "Pull every drive into its drive box.",
                frame=frame.id,
            )


@rule("2", Severity.WARN, "handbooks: no slot stays empty; common practice", asks="a photo of the bays")
def bays_closed(load: Load) -> Iterator[Said | Ask]:
    """Empty bays are closed with blanks or sleds for the road."""
    for case, frame in load.each("frame"):
        if frame.bays is None:
            yield unknown(
                case, f"Nobody has said what bays {frame.name} has.", "Enter its bays with its type.", frame=frame.id
            )
        elif frame.bays:
            yield ask(
                case,
                f"Is every bay of {frame.name} closed with a blank or a sled?",
                f"{frame.name} has an open bay: dust and bent pins.",
                "Fit blanks.",
                frame=frame.id,
            )


def _boxes(load: Load) -> Iterator[tuple[Case, list[Piece]]]:
    for case, drives in load.holding("drive"):
        if case.for_drives:
            yield case, [drive for drive in drives if drive.within is None]


def _home_set(load: Load, drives: list[Piece]) -> DriveSet | None:
    """The set most of a box's drives belong to; on a tie the one with the smallest id."""
    count: dict[int, int] = defaultdict(int)
    for drive in drives:
        if drive.set_id is not None:
            count[drive.set_id] += 1
    if not count:
        return None
    return load.drive_set(min(count, key=lambda ident: (-count[ident], ident)))


@rule("3", Severity.BLOCK, "common practice")
def one_set_one_box(load: Load) -> Iterator[Said | Ask]:
    """One drive set to a box, and nothing of another set in it."""
    for case, drives in _boxes(load):
        home = _home_set(load, drives)
        for drive in drives:
            other = load.drive_set(drive.set_id)
            if other is None:
                yield unknown(
                    case,
                    f"Nobody has said which set {drive.name} belongs to.",
                    "Join it to a set, or take it out.",
                    drive=drive.id,
                )
            elif home is not None and other.id != home.id:
                bay = f" (bay {drive.set_bay})" if drive.set_bay else ""
                slot = f" in slot {drive.bay}" if drive.bay else " in this box"
                yield wrong(
                    case,
                    f"A drive of {other.name}{bay} is{slot}: {drive.name}.",
                    "Take it out, or say why it travels here.",
                    drive=drive.id,
                    of=other.id,
                )


@rule("3", Severity.BLOCK, "common practice")
def set_complete(load: Load) -> Iterator[Said | Ask]:
    """A drive set travels complete: every member is in the box."""
    for case, drives in _boxes(load):
        home = _home_set(load, drives)
        if home is None:
            yield unknown(case, f"Nobody has said which set travels in {case.number}.", "Join its drives to a set.")
            continue
        here = {drive.id for drive in case.pieces}
        for member in home.members:
            if member.item_id not in here and not home.broken_up:
                where = f": {member.where}" if member.where else ""
                yield wrong(
                    case,
                    f"{home.name} {member.bay} is missing{where}.",
                    "Bring it, or say why the set travels without it.",
                    drive=member.item_id,
                    of=home.id,
                )


@rule("3", Severity.BLOCK, "common practice")
def bay_order(load: Load) -> Iterator[Said | Ask]:
    """Drives lie in the order of their bays; where the set is strict, each in the slot of its own letter."""
    for case, drives in _boxes(load):
        home = _home_set(load, drives)
        for drive in drives:
            if home is None or drive.set_id != home.id or not drive.set_bay:
                continue
            if not drive.bay:
                yield unknown(
                    case,
                    f"Nobody has said which slot {drive.name} ({drive.set_bay}) is in.",
                    "Scan it into its slot.",
                    drive=drive.id,
                )
            elif drive.bay != drive.set_bay and drive.bay in {member.bay for member in home.members}:
                yield wrong(
                    case,
                    f"{drive.name} belongs in bay {drive.set_bay} and lies in slot {drive.bay}.",
                    f"Move it to slot {drive.set_bay}.",
                    Severity.BLOCK if home.strict else Severity.WARN,
                    drive=drive.id,
                    slot=drive.bay,
                )


@rule("3", Severity.WARN, "common practice")
def one_of_each_bay(load: Load) -> Iterator[Said | Ask]:
    """No two drives of one set wear the same bay letter in one box."""
    for case, drives in load.holding("drive"):
        letters: dict[tuple[int, str], list[Piece]] = defaultdict(list)
        for drive in drives:
            if drive.set_id is not None and not drive.set_bay:
                yield unknown(
                    case, f"Nobody has said which bay {drive.name} is.", "Give it its bay letter.", drive=drive.id
                )
            elif drive.set_id is not None:
                letters[drive.set_id, drive.set_bay].append(drive)
        for (ident, letter), same in letters.items():
            if len(same) > 1:
                owner = load.drive_set(ident)
                names = " and ".join(drive.name for drive in same)
                yield wrong(
                    case,
                    f"Two {letter}s of {owner.name if owner else 'one set'}: {names}.",
                    "Say which one is the spare, and mark it.",
                    drives=",".join(str(drive.id) for drive in same),
                )


@rule("4", Severity.WARN, "handbooks in general; common practice", asks="a tick", always_known="only a look can tell")
def antistatic(load: Load) -> Iterator[Said | Ask]:
    """Each drive is in an antistatic sleeve or slot."""
    for case, drives in load.holding("drive"):
        if any(drive.within is None for drive in drives):
            yield ask(
                case,
                "Is each drive in an antistatic sleeve or slot?",
                "A drive lies without its sleeve.",
                "Give it a sleeve.",
            )


@rule(
    "5",
    Severity.WARN,
    "handbooks: an inch of foam under a drive; common practice: slotted firm foam, no loose fill",
    asks="a measure in mm, once for each case type",
    measure="mm",
    lasts=FOR_THE_TYPE,
    limits={"clear_mm": Limit(Decimal(25), "mm", "foam on every side of a drive")},
    always_known="only a measure can tell",
)
def foam_round_drives(load: Load, clear_mm: Decimal) -> Iterator[Said | Ask]:
    """Firm slotted foam of at least 25 mm is round a drive on every side, never loose fill."""
    for case, _ in load.holding("drive"):
        if case.for_drives:
            yield ask(
                case,
                f"How much foam is round each drive? {clear_mm:f} mm is asked.",
                "Only {measured} mm of foam is round a drive.",
                "Use a box with more foam.",
                at_least=clear_mm,
                unit="mm",
                case_type=case.type_id,
            )


@rule("31", Severity.WARN, "common practice", asks="a photo of the outside", always_known="only a look can tell")
def drive_box_discreet(load: Load) -> Iterator[Said | Ask]:
    """A drive box is closed, and no client's or show's name stands outside."""
    for case, _ in _boxes(load):
        yield ask(
            case,
            "Is the drive box closed, with no client's or show's name outside?",
            "The outside names a client or a show, or the box does not close.",
            "Cover the name; change the box.",
        )
