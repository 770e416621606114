"""READY or NOT READY, with each reason and the shortest path to ready. Pure: rows in, a verdict out.

inventory/answers/readiness.py reads the rows from the book; this module only judges them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime, timedelta
from itertools import groupby
from uuid import UUID

from inventory.answers.readiness_rows import (
    Act,
    Candidate,
    PartLine,
    Readiness,
    SystemRows,
    minutes_in_words,
)
from inventory.answers.twins import SWAP_WAY_OUT, Twin, swap_sentence
from inventory.answers.values import Reason, Strength
from inventory.enumerating import some_of

MARGIN = timedelta(days=7)  # an inspection must last this long past the day (code of practice, rule 44)

# Minutes a person needs for one act: practitioners' estimates, marked as estimates wherever they show.
MINUTES = {
    "look": 2,
    "swap back": 20,
    "bring back": 15,
    "mend": 60,
    "inspect": 4,
    "label": 5,
    "free a set": 480,
    "hire": 30,
    "add": 10,
}

Found = tuple[Reason, Act]


def judge(rows: SystemRows, *, on: date, at: datetime) -> Readiness:
    """The verdict on a system for the day `on`, by what is known at `at`."""
    reasons: list[Reason] = []
    acts: list[Act] = []
    for reason, act in _reasons(rows, on):
        reasons.append(reason)
        acts.append(act)
    path = _shortest(acts)
    return Readiness(
        answer="NOT READY" if reasons else "READY",
        sentence=_sentence(rows.name, reasons, on),
        system=rows.name,
        on=on,
        at=at,
        reasons=tuple(reasons),
        remarks=tuple(_remarks(rows, on)),
        path=path,
        path_sentence=_path_sentence(path),
        parts=rows.parts,
        twins=rows.twins,
    )


def _reasons(rows: SystemRows, on: date) -> Iterator[Found]:
    if not any(part.required for part in rows.parts):
        yield _no_parts(rows.name)
        return
    required = [part for part in rows.parts if part.required]
    for rule in (_missing, _elsewhere, _not_confirmed, _quarantine, _faults, _inspections, _labels, _hire):
        yield from rule(required, rows, on)
    yield from _drive_set(rows)


def _no_parts(name: str) -> Found:
    return (
        Reason("no parts listed", f"Nobody has said which parts make {name} whole.", "List its required parts."),
        Act("list the parts", "kit manager", MINUTES["add"], f"List the required parts of {name}."),
    )


def _fills(parts: Iterable[PartLine]) -> Iterator[tuple[PartLine, Candidate]]:
    """Each candidate once, though it may fill an exact part and a part by type."""
    seen = set()
    for part in parts:
        for one in part.fills:
            if one.item.id not in seen:
                seen.add(one.item.id)
                yield part, one


def _missing(parts: Sequence[PartLine], rows: SystemRows, on: date) -> Iterator[Found]:
    """Too few of a kind, or a thing nobody can place."""
    for part in parts:
        lots = [one for one in part.fills if one.is_lot and not one.retired]
        short = part.wanted - part.in_stock
        if part.by_serial and lots and short > 0:
            yield _counted_short(part, lots[0], short)
        if not part.by_serial and short > 0:
            yield (
                Reason("missing", f"{short} more of {part.name} wanted: the system has none to count.",
                       "Assign what it lacks to the system, or hire it."),
                Act("find or hire", "kit manager", MINUTES["hire"], f"Find or hire {short} x {part.name}."),
            )  # fmt: skip
        for one in part.fills:
            if one.where.strength in (Strength.MISSING, Strength.UNKNOWN, Strength.IN_DISPUTE) or one.retired:
                yield _lost(part, one)


def _counted_short(part: PartLine, lot: Candidate, short: int) -> Found:
    out = "Count again, put in what lacks, or amend how many there should be."
    return (
        Reason("missing", f"{short} of {part.wanted} {part.name} are missing: {lot.quantity} were counted.", out, (),
               (lot.item.id,)),
        Act("look for it", "kit manager", MINUTES["bring back"], f"{part.name}: {out}", (lot.item.id,)),
    )  # fmt: skip


def _lost(part: PartLine, one: Candidate) -> Found:
    if one.where.strength == Strength.UNKNOWN:
        out = "Scan it where it stands, or put a replacement on the parts list."
        return (
            Reason("place unknown", one.where.sentence, out, _entries(one), (one.item.id,)),
            Act("look for it", "kit manager", MINUTES["bring back"], f"{_called(one)}: {out}", (one.item.id,)),
        )
    if one.retired:
        words, out = "is retired and still listed as a part", "Put its replacement on the parts list."
    elif one.where.strength == Strength.IN_DISPUTE:
        words, out = "has two stories about where it is", "Settle which story is right."
    else:
        words, out = "is missing", "Look where it was last seen, or put a replacement on the parts list."
    sentence = f"{_called(one)} {words}. {one.where.sentence}".strip()
    return (
        Reason("missing", sentence, out, _entries(one), (one.item.id,)),
        Act("look for it", "kit manager", MINUTES["bring back"], f"{_called(one)}: {out}", (one.item.id,)),
    )


def _elsewhere(parts: Sequence[PartLine], rows: SystemRows, on: date) -> Iterator[Found]:
    """Known to be somewhere that is not a store of ours, or in another system's case."""
    crossed = {twin.item.id: twin for twin in rows.twins}
    for _part, one in _fills(parts):
        if one.item.id in crossed:
            yield _swapped(crossed[one.item.id])
        elif one.where.strength in (Strength.MISSING, Strength.UNKNOWN, Strength.IN_DISPUTE) or one.retired:
            continue
        elif not one.in_our_store and one.where.links:
            yield _away(one)
        elif one.case_system and one.case_system != rows.name:
            yield _on_loan(one)


def _swapped(twin: Twin) -> Found:
    ids = (twin.item.id,)
    act = f"Swap {twin.item.serial or twin.item.words} back from {twin.in_case.words}."
    return (
        Reason("twin swapped", swap_sentence(twin), SWAP_WAY_OUT, (), ids),
        Act("swap back", "kit manager", MINUTES["swap back"], act, ids),
    )


def _away(one: Candidate) -> Found:
    promise = one.promise
    if promise is None:
        out = f"Bring {_called(one)} back to a store of ours."
        return (
            Reason("elsewhere", one.where.sentence, out, _entries(one), (one.item.id,)),
            Act("bring back", "kit manager", None, out, (one.item.id,)),
        )
    verb = "left in" if promise.verb == "left" else "handed over to"
    word = "left in place" if promise.verb == "left" else "handed over"
    due = f", promised for {promise.due_at:%-d %B}" if promise.due_at else ""
    by = f" by {promise.person}" if promise.person and promise.verb == "left" else ""
    note = f" ({promise.note})" if promise.note else ""
    who = promise.person or "kit manager"
    sentence = f"{_called(one)} was {verb} {promise.place}{note}{due}{by if due else ''}."
    out = f"Collect it; ask {who}." if promise.person else "Collect it."
    act = Act("collect", who, None, f"Collect {_called(one)} from {promise.place}; ask {who}.", (one.item.id,))
    return Reason(word, sentence, out, (promise.entry,), (one.item.id,)), act


def _on_loan(one: Candidate) -> Found:
    case = one.case.words if one.case else one.case_system
    out = f"Take it out of {case} and put it in its own case, or give it to {one.case_system} for good."
    return (
        Reason("in another system's case", f"{_called(one)} is in {case}, which is {one.case_system}'s.", out,
               _entries(one), (one.item.id,)),
        Act("bring back", "kit manager", MINUTES["bring back"], f"Take {_called(one)} out of {case}.", (one.item.id,)),
    )  # fmt: skip


def _not_confirmed(parts: Sequence[PartLine], rows: SystemRows, on: date) -> Iterator[Found]:
    """Known by word only: one reason and one look for each case, not one for each thing."""
    doubtful = [one for _part, one in _fills(parts) if _is_doubtful(one)]
    doubtful.sort(key=_group)
    for where, group in groupby(doubtful, key=_group):
        things = list(group)
        ids = tuple(one.item.id for one in things)
        names = some_of(dict.fromkeys(_called(one) for one in things))
        place = f"in {where}" if where else "anywhere"
        yield (
            Reason("not confirmed", f"Nobody has seen {names} {place} since it could have gone: known by word only.",
                   f"Look and scan: {len(things)} to see.", tuple(e for one in things for e in _entries(one)), ids),
            Act("look", "kit manager", MINUTES["look"] * len(things), f"Scan {len(things)} {place}: {names}.", ids),
        )  # fmt: skip


def _is_doubtful(one: Candidate) -> bool:
    if one.retired:
        return False
    return one.by_word_only or (not one.where.links and one.where.strength == Strength.PLANNED_ONLY)


def _group(one: Candidate) -> str:
    if one.case:
        return one.case.words
    last = one.where.links[-1].place if one.where.links else None
    return last.name if last else ""


def _quarantine(parts: Sequence[PartLine], rows: SystemRows, on: date) -> Iterator[Found]:
    for _part, one in _fills(parts):
        if one.in_quarantine and not one.faults:
            out = "Test it and sign it out of quarantine, or replace it."
            yield (
                Reason("in quarantine", f"{_called(one)} is in quarantine.", out, _entries(one), (one.item.id,)),
                Act("mend", "kit manager", MINUTES["mend"], f"{_called(one)}: {out}", (one.item.id,)),
            )


def _faults(parts: Sequence[PartLine], rows: SystemRows, on: date) -> Iterator[Found]:
    for _part, one in _fills(parts):
        for fault in one.faults[-1:]:
            words = f": {fault.words}" if fault.words else ""
            shelf = ", in quarantine" if one.in_quarantine else ""
            out = "Mend or replace it, test it, then close the fault."
            sentence = f"{_called(one)} has an open fault{words} ({fault.by}, {fault.at:%-d %B}{shelf})."
            yield (
                Reason("open fault", sentence, out, (fault.entry,), (one.item.id,)),
                Act("mend", "kit manager", MINUTES["mend"], f"{_called(one)}: {out}", (one.item.id,)),
            )


def _inspections(parts: Sequence[PartLine], rows: SystemRows, on: date) -> Iterator[Found]:
    needed = on + MARGIN
    for _part, one in _fills(parts):
        due = one.inspection_due
        if due is None and not one.inspection_asked:
            continue
        if due is not None and due >= needed:
            continue
        words = f"runs out on {due:%-d %B %Y}" if due else "has no date"
        out = f"Have a competent person inspect it; it must last to {needed:%-d %B %Y}."
        yield (
            Reason("inspection", f"The inspection of {_called(one)} {words}.", out, (), (one.item.id,)),
            Act("inspect", "competent person", MINUTES["inspect"], f"Inspect {_called(one)}.", (one.item.id,)),
        )


def _labels(parts: Sequence[PartLine], rows: SystemRows, on: date) -> Iterator[Found]:
    for _part, one in _fills(parts):
        if not one.labelled:
            yield (
                Reason("no label", f"{_called(one)} has no label in use.", "Print one and put it on.", (),
                       (one.item.id,)),
                Act("label", "kit manager", MINUTES["label"], f"Label {_called(one)}.", (one.item.id,)),
            )  # fmt: skip


def _hire(parts: Sequence[PartLine], rows: SystemRows, on: date) -> Iterator[Found]:
    for _part, one in _fills(parts):
        if one.hired_from and one.off_hire_at and one.off_hire_at.date() < on:
            out = f"Extend the hire with {one.hired_from}, or put a part of ours in its place."
            yield (
                Reason("hire ends", f"{_called(one)} is hired from {one.hired_from} until "
                       f"{one.off_hire_at:%-d %B %Y}.", out, (), (one.item.id,)),
                Act("hire", "kit manager", MINUTES["hire"], out, (one.item.id,)),
            )  # fmt: skip


def _drive_set(rows: SystemRows) -> Iterator[Found]:
    """One set at home here must be blank and confirmed; each that is not says why."""
    if not rows.needs_set or any(verdict.answer == "BLANK" for _name, verdict in rows.sets):
        return
    if not rows.sets:
        why, out = "no drive set has its home here", "Make a set for it, or hire drives."
    else:
        why = "; ".join(f"{name}: {verdict.sentence}" for name, verdict in rows.sets)
        out = next((r.way_out for _n, v in rows.sets for r in v.reasons if r.way_out), "Release and wipe one set.")
    entries = tuple(entry for _name, verdict in rows.sets for reason in verdict.reasons for entry in reason.entries)
    yield (
        Reason("no blank drive set", f"No drive set of {rows.name} is blank and confirmed: {why}.", out, entries),
        Act("free a set", "kit manager", MINUTES["free a set"] if rows.sets else MINUTES["hire"], out),
    )


def _remarks(rows: SystemRows, on: date) -> Iterator[Reason]:
    """Not in the way, worth knowing: recommended parts and spares that are not at hand."""
    for part in rows.parts:
        if not part.required and part.at_hand < part.wanted:
            yield Reason(
                part.necessity, f"{part.name}: {part.at_hand} of {part.wanted} at hand.", "",
                items=tuple(one.item.id for one in part.fills if not one.at_hand),
            )  # fmt: skip


def _called(one: Candidate) -> str:
    """As a person would point at it: name and serial, or the number."""
    item = one.item
    if item.number:
        return item.number
    return item.name if not item.serial or item.serial[-6:] in item.name else f"{item.name} {item.serial}"


def _entries(one: Candidate) -> tuple[UUID, ...]:
    links = (link.placing for link in one.where.links if link.placing)
    return tuple(dict.fromkeys(evidence.entry for evidence in links))


def _shortest(acts: Iterable[Act]) -> tuple[Act, ...]:
    """Acts of one kind by one person at one place are one errand; the quick ones first, the open-ended last."""
    merged: dict[tuple[str, str, str], Act] = {}
    for act in acts:
        key = (act.act, act.who, act.sentence if act.act not in ("inspect", "label") else "")
        known = merged.get(key)
        if known is None:
            merged[key] = act
        elif act.act in ("inspect", "label"):
            minutes = (known.minutes or 0) + (act.minutes or 0)
            sentence = f"{known.sentence.rstrip('.')}, {act.sentence.split(' ', 1)[1]}"
            merged[key] = Act(act.act, act.who, minutes, sentence, known.items + act.items)
    return tuple(sorted(merged.values(), key=lambda act: (act.minutes is None, act.minutes or 0)))


def _path_sentence(path: Sequence[Act]) -> str:
    if not path:
        return ""
    known = sum(act.minutes or 0 for act in path)
    open_ended = sum(act.minutes is None for act in path)
    words = f"About {minutes_in_words(known)} of work (an estimate)" if known else "How long is not known"
    if open_ended:
        words += f", and {open_ended} to fetch from elsewhere"
    return words + "."


def _sentence(name: str, reasons: Sequence[Reason], on: date) -> str:
    day = f"{on:%-d %B %Y}"
    if not reasons:
        return f"{name} is READY for {day}."
    count = len(reasons)
    words = sorted({reason.word for reason in reasons}, key=[reason.word for reason in reasons].index)
    return f"{name} is NOT READY for {day}: {count} {'reason' if count == 1 else 'reasons'} ({', '.join(words)})."
