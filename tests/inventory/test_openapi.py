"""The described form of POST /api/scans/ is the form it really has."""

from __future__ import annotations

import json
from datetime import datetime
from typing import Any
from uuid import UUID

import pytest
import time_machine
from django.test import Client

from inventory import uploads
from inventory.models import Verb
from inventory.saying import Says
from inventory.uploads import FIELDS
from tests.factories import T0, make_case, make_device
from tests.inventory.uploading import a_scan, send

TYPES = {"string": str, "integer": int, "array": list, "object": dict, "boolean": bool, "null": type(None)}
FORMATS = {"uuid": UUID, "date-time": datetime.fromisoformat}


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel(T0, tick=False):
        yield


@pytest.fixture
def described(db) -> dict[str, Any]:
    return json.loads(b"".join(Client().get("/api/openapi.json").streaming_content))


def faults(value: Any, schema: dict[str, Any], root: dict[str, Any], at: str = "$") -> list[str]:
    """What differs between a value and its schema, for the keywords that our description uses (JSON Schema 2020-12)."""
    if "$ref" in schema:
        return faults(value, root["components"]["schemas"][schema["$ref"].rsplit("/", 1)[1]], root, at)
    kinds = schema["type"] if isinstance(schema["type"], list) else [schema["type"]]
    if not any(isinstance(value, TYPES[kind]) and not (kind == "integer" and value is True) for kind in kinds):
        return [f"{at}: {value!r} is not {kinds}"]
    found = []
    if "enum" in schema and value not in schema["enum"]:
        found.append(f"{at}: {value!r} is none of {schema['enum']}")
    if schema.get("format") and value is not None:
        FORMATS[schema["format"]](value)
    if isinstance(value, list):
        found += [f for n, each in enumerate(value) for f in faults(each, schema["items"], root, f"{at}[{n}]")]
    if isinstance(value, dict):
        found += _faults_of_object(value, schema, root, at)
    return found


def _faults_of_object(value: dict, schema: dict, root: dict, at: str) -> list[str]:
    found = [f"{at}: no {name}" for name in schema.get("required", []) if name not in value]
    known = schema["properties"]
    if schema.get("additionalProperties") is False:
        found += [f"{at}: {name} is not described" for name in set(value) - set(known)]
    return found + [
        f for name in set(value) & set(known) for f in faults(value[name], known[name], root, f"{at}.{name}")
    ]


def _schema(described: dict, status: int) -> dict:
    answer = described["paths"]["/api/scans/"]["post"]["responses"][str(status)]
    return answer["content"]["application/json"]["schema"]


def test_the_checker_sees_a_fault(described):
    wrong = {
        "received_at": "2026-03-14T12:00:00Z",
        "scans": [{"position": -1, "receipt": "lost"}],
        "remarks": [3],
        "x": 1,
    }
    assert len(faults(wrong, _schema(described, 200), described)) == 6


def test_every_receipt_is_as_described(described):
    make_device()
    code = make_case().labels.get().code
    scan = a_scan(code)
    sent = [
        scan,
        scan,
        {**scan, "note": "other"},
        a_scan("NEVERSEEN9"),
        a_scan(code, id="x"),
        a_scan(code, verb="written off"),
    ]
    answer = send(sent, unsent="many").json()
    assert faults(answer, _schema(described, 200), described) == []
    receipts = [each["receipt"] for each in answer["scans"]]
    assert receipts == ["stored", "already stored", "id reused", "unknown code", "unreadable", "held"]
    assert receipts == described["components"]["schemas"]["Receipt"]["properties"]["receipt"]["enum"]


def test_every_refusal_is_as_described(described):
    make_device()
    for status, response in {
        400: send(b"{"),
        401: send([], token=""),
        405: Client().get("/api/scans/"),
        413: send([1] * 501),
    }.items():
        assert response.status_code == status
        assert faults(response.json(), _schema(described, status), described) == []


@pytest.mark.parametrize("address", ["/api/scans", "/api/", "/api/day/today/", "/api/%00", "/api/answers/none/"])
def test_an_address_that_is_none_is_answered_in_a_sentence(db, address):
    answer = Client(enforce_csrf_checks=True).post(address, b"{", content_type="application/json")
    assert answer.status_code == 404
    assert "names what there is" in answer.json()["error"]


def test_the_fields_and_limits_described_are_those_read(described):
    scan = described["components"]["schemas"]["Scan"]["properties"]
    assert set(scan) == set(FIELDS)
    assert set(scan["verb"]["enum"]) == set(Verb.values) - uploads.AT_THE_DESK
    assert described["components"]["schemas"]["Upload"]["properties"]["scans"]["maxItems"] == uploads.MAX_SCANS
    assert f"{uploads.MAX_BYTES:,} bytes" in described["paths"]["/api/scans/"]["post"]["description"]
    says = described["components"]["schemas"]["Receipt"]["properties"]["says"]["enum"]
    assert says == [word.value for word in Says]


def test_a_text_longer_than_described_is_unreadable(described):
    scan = described["components"]["schemas"]["Scan"]["properties"]
    longest = {name: rule["maxLength"] for name, rule in scan.items() if "maxLength" in rule}
    assert len(longest) == 12
    for name, length in longest.items():
        with pytest.raises(uploads.Unreadable, match="longer"):
            FIELDS[name]("A" * (length + 1))
