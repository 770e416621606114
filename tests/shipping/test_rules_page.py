"""The rules page says why, where from, how much and how often; a limit is a new dated row."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone
from django.utils.html import escape

from inventory.ledger import Witness
from inventory.models import Role
from shipping.limits import LimitRefusal, all_rules, changes, rule_lines, set_limit
from shipping.models import RuleLimit
from shipping.waiving import waive
from tests.factories import IDA, T0
from tests.shipping.test_case_pages import text
from tests.shipping.test_waiving import FOUND

LIMIT = ("lift-band", "person_kg")


def test_every_rule_stands_on_the_page_with_its_sentence_and_source(db, staff, sign_in):
    body = sign_in(staff).get(reverse("rules")).content.decode()
    for rule in all_rules().values():
        assert escape(rule.sentence) in body and escape(rule.source) in body
        for limit in rule.limits.values():
            assert escape(limit.words) in body


def test_the_page_says_how_often_a_rule_was_set_aside(db, staff, sign_in):
    for n in range(3):
        waive(replace(FOUND, subject=f"case:{n}"), reason="no other box", by=IDA, at=T0)
    assert "3 times" in text(sign_in(staff).get(reverse("rules")))


def test_the_page_costs_the_same_however_much_was_entered(db, staff, sign_in, django_assert_num_queries):
    client = sign_in(staff)
    client.get(reverse("rules"))
    with django_assert_num_queries(6):
        client.get(reverse("rules"))
    for n in range(30):
        waive(replace(FOUND, subject=f"case:{n}"), reason="no other box", by=IDA, at=T0)
        set_limit(*LIMIT, Decimal(n + 1), valid_from=date(2026, 1, 1), source="ours", by=IDA, at=T0)
    with django_assert_num_queries(6):
        client.get(reverse("rules"))


def test_a_kit_manager_enters_a_limit_from_a_day_on_and_the_old_one_stays(db, kit_manager, sign_in):
    client, day = sign_in(kit_manager), timezone.localdate() + timedelta(days=3)
    address = reverse("rule-limit", args=LIMIT)
    answer = client.post(address, {"value": "25", "valid_from": day.isoformat(), "source": "our competent person"})
    assert answer.status_code == 302
    assert [row.value for row in RuleLimit.objects.all()] == [25]
    before, after = (
        next(line for line in rule_lines(on, T0) if line.rule.id == LIMIT[0]).limits[0].now
        for on in (day - timedelta(days=1), day)
    )
    assert (before, after) == (16, 25)
    assert "our competent person" in text(client.get(address))


@pytest.mark.parametrize(
    "given",
    [{"value": "-1"}, {"value": "0"}, {"value": "heavy"}, {"valid_from": ""}, {"source": " "}, {"value": "NaN"}],
)
def test_what_is_no_limit_is_asked_again(db, kit_manager, sign_in, given):
    data = {"value": "25", "valid_from": "2026-03-01", "source": "ours", **given}
    answer = sign_in(kit_manager).post(reverse("rule-limit", args=LIMIT), data)
    assert answer.status_code == 422 and not RuleLimit.objects.exists()


@pytest.mark.parametrize(
    "role,status", [(Role.ROAD_LEAD, 403), (Role.CREW, 403), (Role.STAFF, 403), (Role.CLIENT, 403)]
)
def test_only_a_kit_manager_changes_a_limit(db, staff, sign_in, role, status):
    staff.role = role
    staff.save()
    client = sign_in(staff)
    data = {"value": "25", "valid_from": "2026-03-01", "source": "ours"}
    assert client.post(reverse("rule-limit", args=LIMIT), data).status_code == status
    assert client.get(reverse("rules")).status_code == (403 if role == Role.CLIENT else 200)
    with pytest.raises(LimitRefusal, match="Only the kit manager"):
        set_limit(*LIMIT, Decimal(25), valid_from=T0.date(), source="x", by=Witness("X", role), at=T0)


def test_a_rule_or_limit_that_is_none_is_not_found(db, kit_manager, sign_in):
    client = sign_in(kit_manager)
    assert client.get(reverse("rule-limit", args=["lift-band", "nothing"])).status_code == 404
    assert client.get(reverse("rule-limit", args=["nothing", "person_kg"])).status_code == 404


def waived(times: int, at) -> None:
    for n in range(times):
        waive(replace(FOUND, subject=f"case:{n}"), reason="no other box", by=IDA, at=at)


def test_a_rule_that_people_keep_waiving_has_a_warning_beside_it(db, staff, sign_in):
    client = sign_in(staff)
    waived(2, timezone.now())
    assert "KEPT WAIVING" not in text(client.get(reverse("rules")))
    waived(1, timezone.now())
    said = text(client.get(reverse("rules")))
    assert "3 times in 90 days." in said and "a rule that nobody keeps protects nobody" in said
    assert said.count("KEPT WAIVING") == 2


def test_waivers_of_long_ago_are_counted_and_warn_of_nothing(db, staff, sign_in):
    waived(5, timezone.now() - timedelta(days=91))
    said = text(sign_in(staff).get(reverse("rules")))
    assert "5 times" in said and "KEPT WAIVING" not in said


def test_the_page_tells_who_changed_which_limit_when_from_what_to_what_and_from_which_day(db, staff, sign_in):
    set_limit(*LIMIT, Decimal(20), valid_from=date(2026, 1, 1), source="first", by=IDA, at=T0)
    set_limit(*LIMIT, Decimal(18), valid_from=date(2026, 5, 1), source="second", by=IDA, at=T0 + timedelta(hours=1))
    found = changes(rule_lines(T0.date(), T0))
    assert [(one.before, one.row.value, one.row.source) for one in found] == [(20, 18, "second"), (16, 20, "first")]
    said = text(sign_in(staff).get(reverse("rules")))
    assert "Ida Penrake" in said and "20 kg 18 kg 1 May 2026 second" in said


def test_the_five_rules_of_the_bench_stand_on_the_page_with_their_limits(db, kit_manager, sign_in):
    said = text(sign_in(kit_manager).get(reverse("rules")))
    assert [number for number in ("W1", "W2", "W3", "W4", "W5") if f" {number} " not in said] == []
    assert "60 days: without power before somebody is told" in said
    assert sign_in(kit_manager).get(reverse("rule-limit", args=["unpowered-content", "warn_days"])).status_code == 200


@pytest.mark.parametrize("name,value,why", [("copies", "1", "Not fewer than 2"), ("media", "2.5", "Whole media only")])
def test_fewer_copies_than_the_rule_asks_take_the_owners_document(db, name, value, why):
    with pytest.raises(LimitRefusal, match=why):
        set_limit("copies-confirmed", name, Decimal(value), valid_from=T0.date(), source="x", by=IDA, at=T0)
