"""Whatever travels is judged by the limits of the day it leaves, not of the day somebody looks."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory import ledger
from inventory.ledger import Fact
from inventory.models import Item, Kind, Verb
from shipping import boards, desk
from shipping.decks import freight_of
from shipping.documents.around import Around
from shipping.models import RuleLimit
from shipping.planning import findings_for_case, findings_for_leg, findings_for_show
from shipping.planning.desk import wanted
from shipping.planning.going import Question
from tests.factories import IDA, T0, make_case, make_item, make_leg, make_show, make_type, make_vehicle
from tests.shipping.desked import small_show
from tests.shipping.packed import put

NEXT_MONTH = T0 + timedelta(days=30)
LITHIUM = "lithium-in-equipment-by-air"


def limit(rule: str, name: str, value: object, day=NEXT_MONTH) -> None:
    RuleLimit.objects.create(
        rule=rule, name=name, value=Decimal(str(value)), valid_from=day.date(), source="the air rules as amended",
        entered_by="Ida Penrake", entered_at=T0,
    )  # fmt: skip


def lamp(number: str = "WRE-06"):
    case = make_case(number)
    kind = make_type("Lamp", battery_chemistry="lithium-ion", battery_wh=80, battery_count=1, kind=Kind.OTHER)
    put(case, make_item(kind, serial=f"L-{number}", home_case=case))
    return case


def wrong(found, rule: str = LITHIUM) -> list[str]:
    return [one.sentence for one in found if one.rule == rule and one.state == "wrong"]


@pytest.mark.parametrize("leaves,caught", [(T0 + timedelta(days=29), False), (NEXT_MONTH, True)])
def test_an_air_rule_that_changes_next_month_judges_the_leg_of_next_month(db, leaves, caught):
    case = lamp()
    show = make_show("FMC", ends_at=leaves, back_at=leaves + timedelta(days=3))
    leg = make_leg([case], show=show, mode="air", departs_at=leaves, arrives_at=leaves + timedelta(hours=3))
    limit(LITHIUM, "wh", 50)
    for found in (findings_for_leg(leg, T0), findings_for_case(case, T0), findings_for_show(show, T0)):
        assert bool(wrong(found)) is caught


def test_a_leg_that_is_late_is_judged_by_the_day_it_can_still_leave(db):
    case = lamp()
    leg = make_leg([case], mode="air", departs_at=T0 + timedelta(hours=1))
    limit(LITHIUM, "wh", 50, T0 + timedelta(days=2))
    assert not wrong(findings_for_leg(leg, T0))
    assert wrong(findings_for_leg(leg, T0 + timedelta(days=2)))


def test_a_leg_that_has_left_is_judged_by_the_day_it_left(db):
    case = lamp()
    leg = make_leg([case], mode="air", departs_at=T0 + timedelta(hours=1))
    ledger.record([Fact(Verb.DEPARTED, case, place=leg.road, reference="FMC")], by=IDA, at=T0 + timedelta(hours=1))
    limit(LITHIUM, "wh", 50, T0 + timedelta(days=2))
    assert not wrong(findings_for_leg(leg, T0 + timedelta(days=3)))


def test_two_legs_of_one_show_are_each_judged_by_their_own_day(db):
    show = make_show("FMC", ends_at=NEXT_MONTH, back_at=NEXT_MONTH + timedelta(days=9))
    make_leg([lamp()], show=show, mode="air", departs_at=T0 + timedelta(days=1), arrives_at=T0 + timedelta(days=2))
    limit(LITHIUM, "wh", 50)
    assert not wrong(findings_for_show(show, T0))
    make_leg([lamp("WRE-07")], show=show, mode="air", departs_at=NEXT_MONTH, arrives_at=NEXT_MONTH)
    second = Item.objects.get(number="WRE-07")
    assert [one.subject for one in findings_for_show(show, T0) if one.rule == LITHIUM] == [f"case:{second.pk}"]


def test_what_is_on_no_leg_yet_is_judged_by_the_day_its_show_leaves(db):
    case = make_case("HER-01")
    show = make_show("NXT", leaves_at=NEXT_MONTH, starts_at=NEXT_MONTH, ends_at=NEXT_MONTH, back_at=NEXT_MONTH)
    put(case, make_item(make_type("Anvil", mass_kg=Decimal(40))))
    case.type.container.tare_kg = Decimal(10)
    case.type.container.save()
    assert wrong(findings_for_case(case, T0, show), "lift-band")
    limit("lift-band", "person_kg", 40)
    assert not wrong(findings_for_case(case, T0, show), "lift-band")
    assert wrong(findings_for_case(case, T0), "lift-band")


def test_the_desk_the_floor_and_the_dock_plan_with_the_payload_of_that_day(db):
    days = {"leaves_at": NEXT_MONTH, "starts_at": NEXT_MONTH, "ends_at": NEXT_MONTH, "back_at": NEXT_MONTH}
    show = small_show(**days)
    leg = show.consignments.get().legs.get()
    size = {"inner_length_mm": 4200, "inner_width_mm": 1750, "inner_height_mm": 1900}
    type(leg.vehicle.type.container).objects.update(**size)
    leg.departs_at = NEXT_MONTH
    leg.save()
    leg.vehicle.refresh_from_db()
    limit("within-payload", "share", "0.5")
    assert [van.payload_g for van in wanted(show, Question(), T0).job.vans] == [340_000]
    assert desk.desk_of(show, Question(), T0).load.on == NEXT_MONTH.date()
    assert boards.board(leg, T0).share == Decimal("0.5")
    assert freight_of([leg], Around([leg], T0)).deck.payload_g == 340_000


def test_the_pages_say_which_days_limits_they_judge_by(db, kit_manager, sign_in):
    ahead = timezone.now() + timedelta(days=30)
    case, van = make_case("HER-01"), make_vehicle(number="Teasel")
    leg = make_leg([case], van, make_show(ends_at=ahead, back_at=ahead), departs_at=ahead, arrives_at=ahead)
    words = f"Judged by the limits of {ahead:%-d %B}, the day it leaves."
    client = sign_in(kit_manager)
    for page in (reverse("leg", args=[leg.pk]), reverse("case", args=["HER-01"])):
        assert words in client.get(page).content.decode()
    leg.departs_at = timezone.now()
    leg.save()
    assert "Judged by the limits" not in client.get(reverse("leg", args=[leg.pk])).content.decode()
