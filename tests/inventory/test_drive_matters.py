"""What waits: content without power (advice, JEDEC JESD218), sleds to relabel, letters unanswered; and what burns."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.answers.burning import burning
from inventory.answers.drive_matters import matters
from inventory.answers.unpowered import SOURCE
from inventory.models import Verb
from inventory.registering import inside_of
from tests.factories import T0, make_item, make_owner, make_type, make_vehicle
from tests.inventory.histories import History
from tests.inventory.test_drive_pages import done
from tests.inventory.test_wipe_table import COPIED, RELEASED, SHOW

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


def told_later(history: History, days: int) -> list[str]:
    return [one.sentence for one in matters(history.now + days * DAY)]


def test_content_without_power_is_told_after_60_days_and_pressed_after_90():
    history = History().tell(SHOW)
    assert told_later(history, 59) == []
    (soon,) = told_later(history, 71)
    assert soon.startswith("Power and check the drives this week: HERON-1") and "71 days" in soon
    (late,) = told_later(history, 95)
    assert late.startswith("Power the drives now and tell the owner")
    assert "3 months at 40 °C" in SOURCE and "Advice" in SOURCE


@pytest.mark.parametrize(
    "line", ["800 health A", "800 serial A 71B0AK", "800 copies FMC A"], ids=["checked", "read out", "copied"]
)
def test_whatever_needs_the_drive_running_starts_the_clock_anew(line):
    history = History().tell(SHOW + line)
    assert told_later(history, 40) == []


def test_a_drive_without_content_has_no_clock():
    assert told_later(History().tell("1 blank A\n1 join A"), 400) == []


def test_a_sled_that_reads_another_serial_is_a_task_until_a_read_agrees(told, kit_manager, sign_in):
    history = told(SHOW + "10 new B\n11 serial A 71B0BK")
    (task,) = [one for one in told_later(history, 1) if "Relabel" in one]
    assert "stands for 71B0AK, but the drive in it reads 71B0BK" in task
    page = sign_in(kit_manager).get("/set/heron-1/").content.decode()
    assert "Relabel the sled" in page
    history.clock.shift(3600)
    done(sign_in(kit_manager), "serial", drive=history.drives["A"].pk, serial="71B0AK")
    assert [one for one in matters(history.now + DAY) if "Relabel" in one.sentence] == []


def test_a_letter_without_an_answer_is_told_after_three_days(told, kit_manager, sign_in):
    history = told(COPIED)
    done(sign_in(kit_manager), "ask", reference="FMC", drives=history.drives["A"].pk, person=history.person("Jo").pk)
    assert told_later(history, 2) == []
    (again,) = told_later(history, 4)
    assert again.startswith("Ask Jo again to release FMC")


def test_today_tells_staff_and_kit_managers(told, staff, kit_manager, sign_in):
    history = told(SHOW)
    with time_machine.travel(history.now + 71 * DAY, tick=False):
        for person in (staff, kit_manager):
            assert "without power for 71 days" in sign_in(person).get("/").content.decode()


@pytest.fixture
def van():
    """A vehicle with the drives' box on it, a monitor with a price and a thing without one."""

    def load(story: str) -> tuple[History, object]:
        history = History().tell(story)
        vehicle = make_vehicle()
        inside = inside_of(vehicle)
        history.tell(f"{(history.now - history.told).total_seconds() + 40} put A box")
        priced = make_item(make_type("Pane 24", replacement_value=Decimal("900.00"), currency="EUR"))
        for thing in (history.box, priced, make_item(make_type("Adapter", "Hobbinet"))):
            history.fact(Verb.LOADED, thing, place=inside)
        return history, vehicle

    return load


def test_content_without_a_confirmed_copy_outside_the_vehicle_is_lost_with_it(van):
    history, vehicle = van(SHOW)
    (one,) = burning([vehicle], history.now + DAY)
    assert [risk.reference for risk in one.lost] == ["FMC"] and one.lost[0].serials == ("71B0AK",)
    assert one.values == (("EUR", Decimal("900.00")),) and one.things == 4 and one.unpriced == 3
    assert "Content that exists nowhere else: FMC." in one.sentence and "900 EUR" in one.sentence


def test_a_confirmed_copy_elsewhere_saves_it(van):
    history, vehicle = van(RELEASED)
    (one,) = burning([vehicle], history.now + DAY)
    assert one.lost == () and one.content[0].safe == 2


def test_a_copy_in_the_same_vehicle_saves_nothing(van):
    history, vehicle = van(SHOW + "10 copy FMC A disk box")
    (one,) = burning([vehicle], history.now + DAY)
    assert [risk.reference for risk in one.lost] == ["FMC"], "its only copy travels in the same vehicle"


def test_the_drive_with_the_fewest_copies_speaks_for_the_show(van):
    history, vehicle = van(RELEASED.replace("join A", "join AB"))
    history.tell("60 put B box")
    (one,) = burning([vehicle], history.now + DAY)
    assert one.content[0].safe == 0 and one.content[0].serials == ("71B0AK", "71B0BK")


def test_a_vehicle_is_told_as_it_stood_at_that_moment_even_after_it_was_emptied(van):
    history, vehicle = van(SHOW)
    then = history.now + timedelta(hours=1)
    history.tell(f"{(history.now - T0) / timedelta(hours=1) + 30} put A Mill")
    history.fact(Verb.UNLOADED, history.box, place=history.places["Mill"])
    (one,) = burning([vehicle], then)
    assert one.things == 4 and [risk.reference for risk in one.lost] == ["FMC"]
    (one,) = burning([vehicle], history.now)
    assert one.things == 2 and one.content == ()


def test_what_is_planned_for_a_vehicle_is_reckoned_in_with_all_that_is_in_it(van):
    history, vehicle = van(SHOW)
    other = make_vehicle("Meadowrue")
    (one,) = burning([other], history.now + DAY, {other.pk: [history.box.pk]})
    assert one.things == 2 and one.planned == 1 and [risk.reference for risk in one.lost] == ["FMC"]
    (one,) = burning([vehicle], history.now + DAY, {vehicle.pk: [history.box.pk]})
    assert one.things == 4 and one.planned == 0, "what is on it already is not counted twice"


def test_what_belongs_to_others_is_told_beside_the_whole_value(van):
    history, vehicle = van(SHOW)
    kind = make_type("Headset", "Brambleside", replacement_value=Decimal("120.00"), currency="EUR")
    hired = make_item(kind, owner=make_owner("Brambleside Hire"))
    history.fact(Verb.LOADED, hired, place=inside_of(vehicle))
    (one,) = burning([vehicle], history.now + DAY)
    assert one.worth == "1,020 EUR" and one.of_others == "120 EUR"


def test_an_empty_vehicle_is_left_out(told):
    assert burning([make_vehicle()], told("1 blank A").now) == []


def test_more_vehicles_cost_no_more_questions(van):
    history, vehicle = van(SHOW)
    vehicles = [vehicle, make_vehicle("Meadowrue")]
    for one in vehicles:
        history.fact(Verb.LOADED, make_item(make_type("Pane 24")), place=inside_of(one))

    def cost() -> int:
        with CaptureQueriesContext(connection) as seen:
            burning(vehicles, history.now + DAY)
        return len(seen)

    before = cost()
    vehicles.append(make_vehicle("Kestrel"))
    history.fact(Verb.LOADED, make_item(make_type("Pane 24")), place=inside_of(vehicles[-1]))
    assert cost() == before
