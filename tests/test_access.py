"""Every page against every role: what opens, what is refused, and what a stranger is asked to sign in for."""

from __future__ import annotations

import pytest
from django.db import connection, transaction
from django.test import Client, override_settings
from django.urls import reverse

from inventory import passes, unchanged
from inventory.access import COOKIE
from inventory.models import Role
from shipping.demo.loading import PIM_TOKEN
from tests.addresses import Addresses, named_patterns

KIT = frozenset({"kit manager"})
LEADS = KIT | {"road lead"}
CREW = LEADS | {"crew"}
HOUSE = CREW | {"staff"}
ANYONE = HOUSE | {"client"}
PASS = frozenset({"pass"})
ALL = ANYONE | PASS | {"stranger"}
PEOPLE = {"kit manager": "ida", "road lead": "ana", "crew": "wes", "staff": "tomas", "client": "jo"}

# name, method, who it opens to. A page that does not open is 403 for who has signed in, the sign-in for who has not;
# "~" marks what a pass reaches and is refused with a sentence, "^"
# what a client finds only of its own shows. "go" is a page that may lead on to another.
OPENS = """
today get ANYONE | where get ANYONE | things get HOUSE | item get HOUSE | item-add get KIT | item-edit get KIT
item-act get CREW | desk get CREW | item-types get HOUSE | item-type-add get KIT | item-type get KIT
photo get HOUSE | ledger get HOUSE | ledger-odd get HOUSE | take-back get KIT | held get KIT | held-answer post KIT
places get HOUSE | place get HOUSE | place-add get KIT | place-edit get KIT
people get HOUSE | person-add get KIT | person-edit get KIT | organisation-add get KIT | organisation-edit get KIT
import get KIT | import-sheet get KIT | import-answer post KIT | import-forget post KIT | import-columns post KIT
import-leave-out post KIT | import-commit post KIT | import-stop post KIT | import-abandon post KIT
import-csv get KIT | import-xlsx get KIT
work-list get KIT | work-list-settle post KIT
icon go ALL | trust get ALL | scan get ALL | scan-worker get ALL | scan-phone get ALL
sign-in get ALL | theme post ALL | openapi get ALL | join get ALL | join-by-code get ALL | code-page go ALL
case-lifting get HOUSE | freight get HOUSE | freight-figure get KIT
leg get HOUSE | leg-confirm post CREW | leg-waive post LEADS | vehicle get HOUSE
cases get HOUSE | case get HOUSE | case-seal post CREW | case-break-seal post CREW | case-pack post CREW
case-take-out post CREW | case-weigh post CREW | case-confirm post CREW | case-waive post LEADS
rules get HOUSE | rule-limit get KIT | border-list get HOUSE | border-new post KIT | border-issue post KIT
border-decide post LEADS | border-line post KIT | border-csv go HOUSE | border-xlsx go HOUSE
case-csv get HOUSE | case-xlsx get HOUSE | show-csv get HOUSE | show-xlsx get HOUSE
papers get HOUSE | paper get HOUSE~ | paper-code get HOUSE | paper-issue post HOUSE~
paper-labels post HOUSE | paper-sheet get HOUSE
code-seen post CREW+PASS | code-found post CREW+PASS | code-received post CREW~ | code-count post CREW+PASS
code-adopt post KIT~
crew get CREW+PASS | load get CREW+PASS | load-scan post CREW+PASS | load-undo post CREW+PASS
load-depart post CREW~ | load-arrive post CREW~ | load-found post CREW+PASS | load-broken post CREW+PASS
load-leave post CREW~ | load-seal post CREW+PASS
floor get CREW+PASS | floor-status get CREW+PASS | floor-search post LEADS~ | floor-stop post LEADS~
floor-accept post LEADS~ | deck-edit get KIT
dock get CREW+PASS | dock-now get CREW+PASS | dock-settle post LEADS~ | dock-aside post LEADS~
pass-make get LEADS | pass get LEADS | pass-end post LEADS
systems get HOUSE | system get HOUSE | system-add post KIT | system-sign post KIT | system-part-add post KIT
system-part-edit get KIT | system-check-add post KIT | system-check post HOUSE | system-check-remove post KIT
shows get ANYONE | show-add post KIT | show get HOUSE^ | show-set get HOUSE^ | show-edit get LEADS
show-book post KIT | show-unbook post KIT
show-cancel post KIT | consignment-add post LEADS | consignment-split post LEADS | consignment-case post LEADS
leg-add post LEADS | leg-edit get LEADS
packing get HOUSE | packing-status get HOUSE | packing-search post LEADS | packing-stop post LEADS
packing-accept post LEADS
return get HOUSE^ | return-thing get CREW | return-here post CREW | return-mark post CREW | return-case post CREW
return-seal post CREW | return-close post KIT | promise get HOUSE
drive-sets get ANYONE | drive-hands get HOUSE | if-it-burns get HOUSE | policies get KIT | bench get HOUSE
bench-begin post LEADS | bench-job get HOUSE | bench-stop post LEADS | bench-end post LEADS
drive-set get HOUSE^ | drive-act get KIT^ | own-drive-act get KIT
"""
# These answer machines, or sign people out: their own rules are tested where they are.
ELSEWHERE = {"answer": "tests/inventory/test_answering.py", "scans": "tests/inventory/test_scans_api.py",
             "photos-of-phones": "tests/inventory/test_photos_api.py",
             "day": "tests/shipping/test_day_list.py", "trust-certificate": "tests/test_lan.py",
             "api-nothing": "tests/inventory/test_openapi.py",
             "sign-out": "tests/inventory/test_signing.py"}  # fmt: skip


def _who(words: str) -> frozenset[str]:
    return frozenset().union(*(globals()[word] for word in words.split("+")))


LINES = [row.split() for row in OPENS.replace("\n", "|").split("|") if row.strip()]
ROWS = {name: (method, who) for name, method, who in LINES}


@pytest.fixture(scope="module")
def media(tmp_path_factory):
    return tmp_path_factory.mktemp("media")


@pytest.fixture(autouse=True)
def own_media(settings, media):
    settings.MEDIA_ROOT = media


@pytest.fixture(scope="module")
def where(demo_world, django_db_blocker, media) -> Addresses:
    """Every page's address; the rows that some need are made once for all of them."""
    with django_db_blocker.unblock(), override_settings(MEDIA_ROOT=media):
        return Addresses(demo_world)


def browsers(world) -> dict[str, Client]:
    """One browser a role: five people of the cast, a phone on tonight's pass, and a stranger."""
    found = {role: Client() for role in (*PEOPLE, "pass", "stranger")}
    for role, name in PEOPLE.items():
        found[role].force_login(world.witnesses[name].user)
    found["pass"].cookies[COOKIE] = PIM_TOKEN
    return found


OPEN = {"get": {200}, "go": {200, 302}, "post": {200, 302, 422}}


def seen(browser: Client, method: str, address: str, data: dict[str, object] | None = None) -> str:
    """What came of it: open, refused, asked to sign in, or the status that should not be."""
    with transaction.atomic():
        answer = browser.post(address, data) if method == "post" else browser.get(address)
        list(getattr(answer, "streaming_content", ()))
        transaction.set_rollback(True)
    if method == "post":
        unchanged.forget()  # what it wrote is taken back
    if answer.status_code == 302 and answer["Location"].startswith("/sign-in/"):
        return "sign in"
    if answer.status_code in {403, 404}:
        return {403: "refused", 404: "not there"}[answer.status_code]
    return "open" if answer.status_code in OPEN[method] else str(answer.status_code)


def expected(role: str, who: str) -> str:
    if role in _who(who.rstrip("~^")):
        return "open"
    if role == "client" and who.endswith("^"):
        return "not there"
    if role == "pass" and who.endswith("~"):
        return "refused"
    return "sign in" if role in {"pass", "stranger"} else "refused"


def test_every_named_page_has_a_row():
    assert set(named_patterns()) == set(ROWS) | set(ELSEWHERE)


def test_every_role_of_the_book_is_asked():
    assert set(PEOPLE) == set(Role.values)


@pytest.mark.parametrize("name", ROWS)
def test_a_page_opens_to_its_roles_and_to_nobody_else(tonight, where, nothing_written, name):
    method, who = ROWS[name]
    asked = browsers(tonight)
    if connection.vendor != "sqlite":  # who may open a page is decided above the database: there, one of each answer
        asked = {role: asked[role] for role in ("kit manager", "stranger")}
    found = {role: seen(browser, method, where(name), where.sent.get(name)) for role, browser in asked.items()}
    assert found == {role: expected(role, who) for role in found}


@pytest.mark.parametrize("name", ["show", "show-set", "return"])
def test_a_client_opens_its_own_show(tonight, name):
    assert seen(browsers(tonight)["client"], "get", reverse(name, args=["CCA"])) == "open"


def test_a_pass_does_not_open_the_load_of_another_show(tonight):
    other = next(
        leg for leg in tonight.legs.values() if leg.consignment.show.code != tonight.passes["tonight"].reference
    )
    assert seen(browsers(tonight)["pass"], "get", reverse("load", args=[other.pk])) in {"refused", "not there"}


def test_a_pass_that_is_over_opens_nothing(tonight, where):
    passes.revoke(tonight.passes["tonight"], by="Ida Penrake", at=tonight.zero)
    assert seen(browsers(tonight)["pass"], "get", where("load")) != "open"
