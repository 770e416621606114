"""Addresses for machines: a phone's scans. Answers are JSON, and never a redirect."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from functools import wraps
from pathlib import Path
from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.models import User
from django.core.exceptions import RequestDataTooBig
from django.db.models import Model
from django.http import FileResponse, HttpRequest, HttpResponse, JsonResponse
from django.urls import path
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt

from inventory import intake, photos
from inventory.access import HEADER, token_hash
from inventory.models import DayPass, Device, Person, slim
from inventory.passes import may_upload
from inventory.prepared import Asked, Prepared
from inventory.scanning import Delivery
from inventory.uploads import MAX_BYTES, UploadRefused, read_upload

Take = Callable[[HttpRequest, Device, datetime], HttpResponse]
View = Callable[[HttpRequest], HttpResponse]
OPENAPI = Path(__file__).parent / "openapi.json"


def refuse(sentence: str, status: int) -> JsonResponse:
    return JsonResponse({"error": sentence}, status=status)


def device_by_header(request: HttpRequest) -> Device | None:
    """The device of the header's token, never of a cookie: a phone in a truck for two days has neither session."""
    token = request.headers.get(HEADER, "")
    if not token:
        return None
    return next((_device(columns) for columns in _DEVICES(hashes=[token_hash(token)])), None)


# All columns of the phone and its pass, and of its account what decides about a scan.
_OWN = [field.attname for field in Device._meta.concrete_fields]
_PASS = [field.attname for field in DayPass._meta.concrete_fields]
_ACCOUNT = ("user__username", "user__is_active", "user__is_superuser")
_PERSON = ("user__person__id", "user__person__name", "user__person__role")
_ASKED = (*_OWN, *(f"day_pass__{name}" for name in _PASS), *_ACCOUNT, *_PERSON)
_DEVICES = Prepared(
    lambda hashes: Device.objects.filter(token_hash__in=hashes).order_by().values_list(*_ASKED), hashes=Asked.TEXTS
)


def _device(columns: Sequence[Any]) -> Device:
    row = dict(zip(_ASKED, columns, strict=True))
    own = {name: row[name] for name in _OWN}
    day_pass = {name: row[f"day_pass__{name}"] for name in _PASS}
    linked: dict[str, Model | None] = {"user": _account(row) if own["user_id"] else None}
    linked |= {"day_pass": slim.known(DayPass, day_pass) if own["day_pass_id"] else None}
    return slim.known(Device, own, **linked)


def _account(row: dict[str, Any]) -> User:
    person = {"id": row["user__person__id"], "name": row["user__person__name"], "role": row["user__person__role"]}
    columns = {"id": row["user_id"]} | {name.removeprefix("user__"): row[name] for name in _ACCOUNT}
    return slim.known(User, columns, person=slim.known(Person, person) if person["id"] else None)


def from_a_phone(most_bytes: int, what: str, fewer: str) -> Callable[[Take], View]:
    """A POST that a phone sends under its token, of so many bytes at most; anything else is refused in a sentence."""

    def guard(take: Take) -> View:
        @csrf_exempt
        @login_not_required
        @wraps(take)
        def view(request: HttpRequest) -> HttpResponse:
            at = timezone.now()
            if request.method != "POST":
                return JsonResponse({"error": f"Send {what} by POST."}, status=405, headers={"Allow": "POST"})
            device = device_by_header(request)
            if device is None:
                return refuse(
                    f"No phone has this token ({HEADER}). Keep the {what}, and join again by the day's code.", 401
                )
            if not may_upload(device, at):
                return refuse(
                    f"This phone's pass ended over 30 days ago. Keep the {what} and show them to the kit manager.", 401
                )
            if _length(request) > most_bytes:
                return refuse(f"An upload has {most_bytes:,} bytes at most. {fewer}", 413)
            return take(request, device, at)

        return view

    return guard


@from_a_phone(MAX_BYTES, "scans", "Send fewer scans at a time.")
def scans(request: HttpRequest, device: Device, at: datetime) -> HttpResponse:
    """Take a phone's scans. 200 with an answer to each; 400 and 413 took nothing; 401 asks to join again."""
    try:
        upload = read_upload(request.body, received_at=at)
    except UploadRefused as why:
        return refuse(str(why), why.status)
    answers = intake.take(Delivery(upload, device, at))
    return JsonResponse(
        {"received_at": at.isoformat(), "scans": [each.as_data() for each in answers], "remarks": list(upload.remarks)}
    )


@from_a_phone(photos.MOST_BYTES, "photos", "Take it smaller.")
def photos_of_phones(request: HttpRequest, device: Device, at: datetime) -> HttpResponse:
    """Take one photo, the bytes alone. 200 with its hash; 413 and 422 took nothing; 401 asks to join again."""
    try:
        return JsonResponse({"hash": photos.keep_as_sent(request.body, by=device.name, at=at)})
    except RequestDataTooBig:
        return refuse("This photo is too large. Take it smaller.", 413)
    except photos.PhotoRefusal as why:
        return refuse(str(why), 422)


def _length(request: HttpRequest) -> int:
    length = request.META.get("CONTENT_LENGTH") or "0"
    return int(length) if length.isdecimal() else 0


@csrf_exempt
@login_not_required
def nothing_here(request: HttpRequest, rest: str) -> HttpResponse:
    """A machine that asks beside the mark is told so in its own form; a page for people would help it nothing."""
    return refuse(
        f"There is no /api/{rest[:80]} here. /api/openapi.json names what there is; mind the last slash.", 404
    )


@login_not_required
def openapi(request: HttpRequest) -> FileResponse:
    return FileResponse(OPENAPI.open("rb"), content_type="application/json")


urlpatterns = [
    path("api/scans/", scans, name="scans"),
    path("api/photos/", photos_of_phones, name="photos-of-phones"),
    path("api/openapi.json", openapi, name="openapi"),
]
