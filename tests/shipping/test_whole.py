"""The page of a system: what is folded together, what stands open."""

from datetime import UTC, datetime
from uuid import uuid4

import pytest

from inventory.answers.readiness_rows import Act, Candidate, Fault, PartLine, Promise, Readiness
from inventory.answers.values import ItemRef, Link, PlaceRef, Reason, Strength, Whereabouts
from shipping.whole import acts_together, parts_together, reasons_together, standing

AT = datetime(2026, 3, 1, tzinfo=UTC)
FAULT = Fault(uuid4(), AT, "Wes Tarn", "dark")
PROMISE = Promise("left", "Rooms rack 3", "Jo Marlow", None, "", uuid4())


def candidate(pk, strength=Strength.SEALED_IN, place="Mill Yard", *, ours=True, home="CUR-01", **more):
    item = ItemRef(pk, f"T{pk}", "", f"thing {pk}")
    where = Whereabouts(item, AT, (Link(item, PlaceRef(pk, "store", place), "", strength),), strength, AT, "")
    return Candidate(item, where, in_our_store=ours, home_case=home, **more)


def part(*fills, wanted=1, necessity="required"):
    return PartLine(fills[0].item.id if fills else 99, "part", necessity, wanted, fills=fills)


def told(*parts, reasons=()):
    return Readiness("NOT READY", "", "Curlew", AT.date(), AT, reasons=reasons, parts=parts)


@pytest.mark.parametrize(
    "fill,word",
    [
        (candidate(1), "at hand"),
        (candidate(1, Strength.SAID), "by word"),
        (candidate(1, place="Fjellmark Hall", ours=False), "away"),
        (candidate(1, Strength.IN_DISPUTE, ours=False), "two stories"),
        (candidate(1, Strength.MISSING, ours=False), "wrong"),
        (candidate(1, faults=(FAULT,)), "wrong"),
        (candidate(1, in_quarantine=True), "wrong"),
        (candidate(1, retired=True), "wrong"),
        (candidate(1, ours=False, promise=PROMISE), "wrong"),
        (candidate(1, case_system="Heron"), "wrong"),
        (candidate(1, case_system="Curlew"), "at hand"),
    ],
)
def test_a_part_stands_as_what_fills_it(fill, word):
    assert standing(part(fill), "Curlew") == word


def test_a_part_that_nothing_or_too_little_fills_is_wrong():
    assert standing(part(), "Curlew") == "wrong"
    assert standing(part(candidate(1), wanted=2), "Curlew") == "wrong"
    assert standing(part(candidate(1, quantity=4, is_lot=True), wanted=4), "Curlew") == "at hand"


def test_parts_fold_by_their_case_and_the_wrong_ones_open_first():
    whole, torn = part(candidate(1)), part(candidate(2, home="CUR-02", faults=(FAULT,)))
    other, spare = part(candidate(3, home="CUR-02")), part(candidate(4), necessity="spare")
    (required, cases), (last, _spares) = parts_together(told(whole, torn, other, spare))
    assert (required, last) == ("required", "spare")
    assert [(one.case, one.opens, one.counts) for one in cases] == [
        ("CUR-02", True, "1 wrong, 1 at hand"), ("CUR-01", False, "1 at hand"),
    ]  # fmt: skip
    assert [len(cases[0].away), len(cases[0].at_hand)] == [1, 1]


@pytest.mark.parametrize("second,opens", [(False, False), (True, True)])
def test_a_case_that_is_away_as_a_whole_stays_folded_and_one_torn_apart_opens(second, opens):
    parts = [part(candidate(n, place="Hall", ours=second and n == 2)) for n in (1, 2)]
    ((_, (case,)),) = parts_together(told(*parts))
    assert case.opens is opens


def reasons(word, *items):
    return [Reason(word, f"thing {item} is {word}", items=(item,)) for item in items]


def test_alike_reasons_are_said_once_with_where_their_things_are_and_single_ones_come_first():
    parts = [part(candidate(n, place="Hall dock" if n < 4 else "Fjellmark Hall", ours=False)) for n in range(1, 6)]
    alone, many = reasons_together([*reasons("elsewhere", 1, 2, 3, 4, 5), *reasons("open fault", 6)], parts)
    assert (alone.word, alone.folded, alone.where) == ("open fault", False, "")
    assert (many.word, many.folded, many.where) == ("elsewhere", True, "3 at Hall dock, 2 at Fjellmark Hall")
    assert len(many.rows) == 5


def test_acts_of_one_kind_for_one_person_are_said_once_and_none_is_lost():
    acts = [Act("bring back", "kit manager", None, f"Bring {n}.") for n in range(5)]
    acts.insert(2, Act("inspect", "competent person", 4, "Inspect it."))
    folded, alone = acts_together(acts)
    assert (folded.act, folded.folded, folded.how_long, len(folded.rows)) == ("bring back", True, "not known", 5)
    assert (alone.act, alone.folded) == ("inspect", False)
