"""The page of a return: which case asks for what, and which of them open by themselves."""

from datetime import UTC, datetime

import pytest

from inventory.answers.values import ItemRef, Strength
from shipping.forms.returns import CloseForm
from shipping.outcomes import Line, Outcome
from shipping.reconcile import Reconciliation, Stranger
from shipping.returned import Standing, piles, returned_cases

AT = datetime(2026, 3, 1, tzinfo=UTC)
CASES = {number: ItemRef(n, f"C{n}", number, number) for n, number in enumerate(("HER-01", "HER-02", "HER-03"), 1)}


def line(pk, outcome, case="HER-01", **more):
    return Line(ItemRef(pk, f"T{pk}", "", f"thing {pk}"), outcome, "", CASES[case], False, Strength.SEEN, "", **more)


def case_line(case, outcome=Outcome.BACK):
    return Line(CASES[case], outcome, "", None, True, Strength.SEEN, "")


def told(*lines, strangers=()):
    return Reconciliation("owed", "", "FMC", AT, lines=lines, strangers=strangers)


def only(*lines, strangers=()):
    (case,) = returned_cases(told(case_line("HER-01"), *lines, strangers=strangers))
    return case


@pytest.mark.parametrize("outcome", [Outcome.DAMAGED, Outcome.SHORT, Outcome.MISSED])
def test_a_case_with_something_wrong_is_wrong_and_open(outcome):
    case = only(line(9, outcome), line(10, Outcome.BACK))
    assert (case.standing, case.opens) == (Standing.WRONG, True)
    assert [[one.item.id for one in rows] for rows in (case.wrong, case.owed, case.settled)] == [[9], [], [10]]


def test_an_alike_thing_in_its_place_is_wrong_though_it_came_back():
    case = only(line(9, Outcome.BACK, other=ItemRef(11, "T11", "", "panel", "84E9")))
    assert (case.standing, [one.item.id for one in case.wrong]) == (Standing.WRONG, [9])


def test_a_thing_on_no_list_makes_its_case_wrong():
    stranger = Stranger(ItemRef(12, "", "", "cord"), CASES["HER-01"], "cord was found in HER-01.")
    case = only(line(9, Outcome.BACK), strangers=[stranger])
    assert (case.standing, case.strangers) == (Standing.WRONG, (stranger,))


def test_what_was_found_in_no_case_of_the_list_is_not_lost():
    stranger = Stranger(ItemRef(12, "", "", "cord"), CASES["HER-03"], "cord was found in a frame.")
    cases = returned_cases(told(case_line("HER-01"), strangers=[stranger]))
    assert [(case.words, case.strangers) for case in cases] == [("HER-01", ()), ("Not in a case", (stranger,))]


@pytest.mark.parametrize("outcome", [Outcome.LEFT, Outcome.CLIENT, Outcome.ELSEWHERE])
def test_a_case_that_came_back_without_things_is_out_and_open(outcome):
    case = only(line(9, outcome), line(10, Outcome.BACK))
    assert (case.standing, case.opens) == (Standing.OUT, True)


def test_a_case_that_is_not_back_is_out_and_folded():
    (case,) = returned_cases(told(case_line("HER-01", Outcome.NOT_LOOKED), line(9, Outcome.NOT_LOOKED)))
    assert (case.standing, case.opens, case.counts) == (Standing.OUT, False, "with its 1 thing")


def test_a_case_nobody_looked_into_is_unseen_and_one_that_came_back_sealed_is_settled():
    unseen, sealed = only(line(9, Outcome.NOT_LOOKED)), only(line(9, Outcome.BACK_SEALED), line(10, Outcome.BACK))
    assert (unseen.standing, unseen.opens, unseen.to_look_at) == (Standing.UNSEEN, False, 1)
    assert (sealed.standing, sealed.opens, sealed.to_look_at) == (Standing.SETTLED, False, 1)
    assert sealed.counts == "1 back, 1 back sealed, not opened"


def test_piles_stand_worst_first_and_hold_every_case_once():
    lines = [*map(case_line, CASES), line(9, Outcome.BACK), line(10, Outcome.DAMAGED, "HER-02")]
    lines.append(line(11, Outcome.CLIENT, "HER-03"))
    found = piles(returned_cases(told(*lines)))
    assert [(pile.standing, [case.words for case in pile.cases]) for pile in found] == [
        (Standing.WRONG, ["HER-02"]), (Standing.OUT, ["HER-03"]), (Standing.SETTLED, ["HER-01"]),
    ]  # fmt: skip
    assert (found[0].things, found[0].keys) == (1, ["2"])


def test_a_closing_takes_the_nearest_word_for_each_thing():
    lines = [case_line("HER-01"), line(9, Outcome.MISSED), line(10, Outcome.SHORT)]
    lines += [case_line("HER-02", Outcome.LEFT), line(11, Outcome.LEFT, "HER-02")]
    lines += [case_line("HER-03"), line(12, Outcome.CLIENT, "HER-03")]
    cases = returned_cases(told(*lines))
    form = CloseForm({"why-9": "insurer pays", "why-in-1": "used up", "rest": "agreed"}, cases=cases)
    assert form.is_valid()
    assert form.why(cases) == {9: "insurer pays", 10: "used up", 2: "agreed", 11: "agreed", 12: "agreed"}
    assert {"why-in-1", "why-in-2", "why-12"} <= form.fields.keys()
