"""Thousands of odd requests to what phones talk to: each gets an answer that is described, and none an accident.

Two of the tool's checks are left out by design: a scan is never refused for what it says (200, and a receipt that says
"unreadable"), and bytes that the description allows need not be a photo.
"""

from __future__ import annotations

import os
from collections import Counter

import pytest
import schemathesis
import time_machine
from django.core.signals import request_finished, request_started
from django.core.wsgi import get_wsgi_application
from django.db import close_old_connections
from hypothesis import HealthCheck, Phase, settings
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi import checks as openapi

from tests.factories import make_case, make_device, make_leg, make_vehicle
from tests.inventory.uploading import later

EXAMPLES = int(os.environ.get("API_EXAMPLES", "12"))  # for each operation
CHECKS = [
    not_a_server_error, openapi.status_code_conformance, openapi.content_type_conformance,
    openapi.response_headers_conformance, openapi.response_schema_conformance, openapi.unsupported_method,
    openapi.ignored_auth,
]  # fmt: skip
SEEN: Counter[tuple[str, str, int]] = Counter()
WSGI = get_wsgi_application()
described = schemathesis.openapi.from_path("inventory/openapi.json")
described.app = WSGI


@pytest.fixture
def phone(db, settings, tmp_path):
    """A phone with a list worth reading; the end of a request leaves the test's connection open, as with the client."""
    settings.MEDIA_ROOT = tmp_path
    settings.ALLOWED_HOSTS = ["*"]
    ends = (request_started, request_finished)
    for signal in ends:
        signal.disconnect(close_old_connections)
    with time_machine.travel(later(minutes=10), tick=True):
        make_leg([make_case("HER-01"), make_case("HER-02")], make_vehicle())
        yield make_device()
    for signal in ends:
        signal.connect(close_old_connections)


@pytest.mark.parametrize("token", ["Pim Osgood", ""], ids=["a phone", "a stranger"])
@described.parametrize()
@settings(
    max_examples=EXAMPLES, deadline=None, derandomize=True, phases=[Phase.explicit, Phase.generate],
    suppress_health_check=list(HealthCheck),
)  # fmt: skip
def test_every_answer_is_a_described_one(case, phone, token):
    headers = {"X-Device-Token": token} if token else {}
    answer = case.call_and_validate(headers=headers, checks=CHECKS)
    SEEN[case.operation.label, token, answer.status_code] += 1


def test_the_requests_reached_what_they_were_meant_for():
    """Else all of the above would be satisfied by one refusal for everything."""
    known = {(label, status) for label, token, status in SEEN if token}
    assert {("POST /api/scans/", 200), ("GET /api/day/", 200), ("POST /api/photos/", 422)} <= known
    assert {status for _, token, status in SEEN if not token} <= {401, 405}
