"""The fixed cast: the same people in every test, so that each page is asked the same questions."""

from __future__ import annotations

import os
from collections.abc import Iterator
from datetime import UTC, datetime

import pytest
import time_machine
from django.contrib.auth import get_user_model
from django.db import connection, transaction
from django.test import Client, override_settings

from inventory import unchanged
from inventory.models import Organisation, Person, Role
from shipping.demo.loading import load
from tests.chance import DICE, codes_by_dice, load_profile
from tests.factories import T0
from tests.keeping import Shelf
from tests.lifting import let_tests_clean_up

# Playwright runs an event loop in the test's thread; Django would refuse the database there.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")
let_tests_clean_up()
load_profile()


DATABASE = {"db", "transactional_db", "django_db_setup", "live_server"}


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--database-only", action="store_true", help="leave out tests that know no database")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """The second database need not be told again what none is asked for."""
    if config.getoption("--database-only"):
        asking = [one for one in items if one.get_closest_marker("django_db") or DATABASE & set(one.fixturenames)]
        config.hook.pytest_deselected(items=list(set(items) - set(asking)))
        items[:] = asking


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_setup(item: pytest.Item) -> None:
    """What a test draws depends on its name, not on what ran before it."""
    DICE.seed(item.nodeid)


@pytest.fixture(scope="session", autouse=True)
def drawn_alike() -> Iterator[None]:
    with codes_by_dice():
        yield


@pytest.fixture(scope="session", autouse=True)
def passwords_cost_nothing():
    """Hashing slowly is for keeping secrets; nobody keeps one here. And no test leaves a search behind."""
    with override_settings(PASSWORD_HASHERS=["django.contrib.auth.hashers.MD5PasswordHasher"], SOLVER_PROCESSES=False):
        yield


@pytest.fixture(scope="session")
def django_db_modify_db_settings(django_db_modify_db_settings_parallel_suffix: None) -> None:
    """On PostgreSQL a worker's database may begin as a copy of one that is migrated already."""
    connection.settings_dict["TEST"]["TEMPLATE"] = os.environ.get("TEST_TEMPLATE")


@pytest.fixture(autouse=True)
def own_media(settings, tmp_path):
    settings.VAR_DIR = tmp_path
    settings.MEDIA_ROOT = tmp_path / "media"


@pytest.fixture
def now() -> datetime:
    return datetime(2026, 3, 14, 12, 0, tzinfo=UTC)


@pytest.fixture
def ours(db) -> Organisation:
    return Organisation.objects.get_or_create(name="Lanternfold Field Pictures", defaults={"is_ours": True})[0]


def _person(name: str, role: str, organisation: Organisation) -> Person:
    user = get_user_model().objects.create_user(name.split()[0].lower(), password="lantern")
    return Person.objects.create(name=name, role=role, user=user, organisation=organisation)


@pytest.fixture
def kit_manager(ours) -> Person:
    return _person("Ida Penrake", Role.KIT_MANAGER, ours)


@pytest.fixture
def road_lead(ours) -> Person:
    return _person("Ana Rell", Role.ROAD_LEAD, ours)


@pytest.fixture
def crew(ours) -> Person:
    return _person("Wes Tarn", Role.CREW, ours)


@pytest.fixture
def staff(ours) -> Person:
    return _person("Tomas Quill", Role.STAFF, ours)


@pytest.fixture
def client_person(db) -> Person:
    return _person("Jo Marlow", Role.CLIENT, Organisation.objects.get_or_create(name="Glasswright Trust")[0])


@pytest.fixture
def sign_in():
    """sign_in(person) -> a test client signed in as that person; sign_in(None) -> a stranger."""

    def signed(person: Person | None) -> Client:
        client = Client()
        if person is not None:
            client.force_login(person.user)
        return client

    return signed


@pytest.fixture(scope="session")
def shelf(tmp_path_factory: pytest.TempPathFactory) -> Shelf:
    """Demo worlds that were loaded once in this run; its workers share them."""
    mine = tmp_path_factory.getbasetemp()
    return Shelf(mine.parent if "PYTEST_XDIST_WORKER" in os.environ else mine)


@pytest.fixture(scope="module")
def demo_world(django_db_setup, django_db_blocker, shelf) -> Iterator[object]:
    """The whole demo world, there for a module's tests and rolled back after them."""
    with django_db_blocker.unblock(), transaction.atomic():
        yield shelf.world("T0", lambda: load(T0))
        transaction.set_rollback(True)


@pytest.fixture(scope="module")
def nothing_written() -> Iterator[None]:
    """Answers are kept from page to page, as in use. Within a transaction, where tests live, none would be: only for
    tests that write nothing, or that forget what is kept once they have taken back what they wrote."""
    with pytest.MonkeyPatch.context() as patched:
        unchanged.forget()
        patched.setattr(unchanged, "mark", lambda: "as it was")
        yield
    unchanged.forget()


@pytest.fixture
def tonight(demo_world, db) -> Iterator[object]:
    """The demo world, with the clock standing at its moment of loading."""
    with time_machine.travel(demo_world.zero, tick=False):
        yield demo_world
