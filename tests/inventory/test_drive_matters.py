"""What waits: content without power (advice, JEDEC JESD218), sleds to relabel, letters unanswered; and what burns."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
import time_machine

from inventory.answers.burning import burning
from inventory.answers.drive_matters import matters
from inventory.answers.unpowered import SOURCE
from inventory.models import Verb
from inventory.registering import inside_of
from tests.factories import make_item, make_type, make_vehicle
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


def test_an_empty_vehicle_is_left_out_and_the_page_says_what_to_do(told, staff, sign_in):
    history = told("1 blank A")
    assert burning([make_vehicle()], history.now) == []
    assert "No vehicle holds anything" in sign_in(staff).get("/if-it-burns/").content.decode()


def test_the_page_names_the_only_copies(van, staff, sign_in):
    history, _ = van(SHOW)
    with time_machine.travel(history.now + DAY, tick=False):
        page = sign_in(staff).get("/if-it-burns/").content.decode()
    assert "ONLY COPY" in page and "71B0AK" in page and "FMC" in page
