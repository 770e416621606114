"""Findings on many cases, sorted for a reader."""

from __future__ import annotations

from shipping.models import BorderList, Waiver
from shipping.packing.facts import Finding, Severity, State
from shipping.verdicts import verdicts
from shipping.waiving import Judged
from tests.factories import make_case, make_show


def judged(rule, case, state, sentence="said"):
    return Judged(Finding(rule, f"case:{case.pk}", Severity.WARN, state, sentence), None)


def test_questions_are_asked_once_for_each_rule_and_name_every_case(db, django_assert_num_queries):
    first, second = make_case("HER-01"), make_case("HER-02")
    asked = [judged("antistatic", one, State.NOT_CONFIRMED) for one in (first, second)]
    with django_assert_num_queries(2):
        told = verdicts([judged("as-listed", first, State.WRONG), *asked, judged("lift-band", second, State.NOT_KNOWN)])
    assert [one.said[0].spot.words for one in told.wrong] == ["HER-01"] and told.blocks == ()
    assert [[said.spot.words for said in one.said] for one in told.unconfirmed] == [["HER-01", "HER-02"]]
    assert [one.said[0].judged.finding.rule for one in told.unknown] == ["lift-band"]


def test_blocks_stand_one_by_one_before_everything_else(db):
    cases = [make_case("HER-01"), make_case("HER-02")]
    blocks = [Judged(Finding("drives-out", f"case:{c.pk}", Severity.BLOCK, State.WRONG, "said"), None) for c in cases]
    assert [one.spot.words for one in verdicts(blocks).blocks] == ["HER-01", "HER-02"]


def test_a_finding_on_no_case_has_no_page_to_go_to(db):
    told = verdicts([Judged(Finding("first-off-said", "leg:3", Severity.ADVISE, State.WRONG, "said"), None)])
    assert told.wrong[0].said[0].spot.address == ""


def test_what_two_legs_say_alike_stands_once_and_says_so(db):
    said = "CURLEW-1 D 72C35H in HER-03 is not on border list GL-2207."
    found = [Judged(Finding("on-the-list", f"leg:{n}", Severity.BLOCK, State.WRONG, said), None) for n in (1, 2)]
    assert [(one.judged.finding.sentence, one.times) for one in verdicts(found).blocks] == [(said, 2)]


def test_a_finding_on_a_border_list_leads_to_the_list(db):
    held = BorderList.objects.create(show=make_show(), number="GL-2207")
    found = Finding("lines-concrete", f"border:{held.pk}", Severity.BLOCK, State.WRONG, "Line 22 says “assorted”.")
    (told,) = verdicts([Judged(found, None)]).blocks
    assert (told.spot.words, told.spot.address) == ("border list GL-2207", f"/border/{held.pk}/")


def test_what_somebody_set_aside_is_not_in_the_way_and_stands_besides(db):
    case = make_case("HER-01")
    said = [Finding("drives-out", f"case:{case.pk}", Severity.BLOCK, State.WRONG, words) for words in ("one", "two")]
    waiver = Waiver(pk=1, rule="drives-out", subject=f"case:{case.pk}", digest=said[1].digest, reason="short way")
    told = verdicts([Judged(said[0], None), Judged(said[1], waiver)])
    assert [one.judged.finding.sentence for one in told.in_the_way] == ["one"]
    assert [one.judged.finding.sentence for one in told.besides.blocks] == ["two"]
