"""Seal, labels and lists: what makes a closed case believable."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from shipping.packing.facts import Load, Severity
from shipping.packing.rules.registry import Ask, Limit, Said, ask, rule, wrong


@rule("32", Severity.WARN, "common practice; long-standing in cargo", always_known="a seal is recorded or it is not")
def sealed_by_number(load: Load) -> Iterator[Said | Ask]:
    """A case leaves with a numbered seal put on after its items were checked; drive boxes always."""
    if load.leg is None:
        return
    for case in load.cases:
        if not case.seal:
            severity = Severity.BLOCK if case.for_drives and case.of_kind("drive") else Severity.ADVISE
            yield wrong(load.leg, f"{case.number} has no seal.", "Check it, close it, seal it.", severity, case=case.id)


@rule(
    "33",
    Severity.WARN,
    "common practice; transport-mark standards advise making old marks illegible",
    asks="a photo",
    always_known="only a look can tell",
)
def old_labels_off(load: Load) -> Iterator[Said | Ask]:
    """Labels of earlier journeys and earlier numbers are off, or blacked out."""
    for case in load.cases:
        if case.old_numbers:
            old = ", ".join(case.old_numbers)
            yield ask(
                case,
                f"{case.number} used to be {old}. Are the old labels off?",
                f"{case.number} still wears {old}.",
                f"Take the labels of {old} off, relabel.",
                old=old,
            )


@rule(
    "34",
    Severity.WARN,
    "common practice",
    asks="a tick",
    limits={"faces": Limit(Decimal(2), "faces", "one long, one short, never the lid only")},
    always_known="only a look can tell",
)
def labels_on_two_faces(load: Load, faces: Decimal) -> Iterator[Said | Ask]:
    """Case labels are on at least two faces, readable when stacked, never on the lid only."""
    for case in load.cases:
        if case.pieces:
            yield ask(
                case,
                f"Are labels on at least {faces:f} faces of {case.number}, not only the lid?",
                f"{case.number} is labelled on too few faces.",
                "Put a label on one long and one short side.",
            )


@rule("35", Severity.WARN, "common practice", always_known="the book knows what it printed and what changed since")
def list_in_the_lid(load: Load) -> Iterator[Said | Ask]:
    """The list inside the lid is there, and as new as the last change."""
    for case in load.cases:
        if not case.pieces or case.list_current:
            continue
        if case.list_printed:
            yield wrong(
                case, f"{case.number} changed since its list was printed.", "Print the case list again.", case=case.id
            )
        else:
            yield wrong(case, f"No list was printed for {case.number}.", "Print the case list.", case=case.id)
