"""How the tests play a phone: bodies of scans, and posting them."""

from __future__ import annotations

import itertools
import json
from datetime import datetime, timedelta
from typing import Any

from django.test import Client

from inventory.ledger import new_id
from inventory.models import Item
from tests.factories import T0

_steps = itertools.count(1)


def a_scan(code: str, **over: Any) -> dict[str, Any]:
    """A well-formed scan at T0 that says something was seen; None takes a field out."""
    at: datetime = over.pop("at", T0)
    body = {
        "id": str(new_id(at)),
        "verb": "seen",
        "code": code,
        "taken_at": at.isoformat(),
        "offset_ms": 0,
        "device_seq": next(_steps),
        **over,
    }
    return {name: value for name, value in body.items() if value is not None}


def send(scans: list[Any] | str | bytes, token: str = "Pim Osgood", **envelope: Any) -> Any:
    """Post an upload by a client without any session. A text or bytes go as they are."""
    body = scans if isinstance(scans, str | bytes) else json.dumps({"scans": scans, **envelope})
    headers = {"X-Device-Token": token} if token else {}
    return Client(enforce_csrf_checks=True).post("/api/scans/", body, content_type="application/json", headers=headers)


def answers(scans: list[Any], token: str = "Pim Osgood", **envelope: Any) -> list[dict[str, Any]]:
    response = send(scans, token, **envelope)
    assert response.status_code == 200, response.content
    return response.json()["scans"]


def later(**span: float) -> datetime:
    return T0 + timedelta(**span)


def only(scans: Any, token: str = "Pim Osgood", **envelope: Any) -> dict[str, Any]:
    (answer,) = answers(scans if isinstance(scans, list) else [scans], token, **envelope)
    return answer


def code(item: Item) -> str:
    return item.labels.get().code
