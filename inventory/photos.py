"""Photographs, kept by the hash of their bytes: only the picture stays, not what the camera wrote about the place."""

from __future__ import annotations

import hashlib
import io
from collections.abc import Iterable
from datetime import datetime
from typing import BinaryIO

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import transaction
from PIL import Image, ImageOps

from inventory.models import Photo, PhotoAsSent

MOST_BYTES = 12 * 1024 * 1024
MOST_PIXELS = 64_000_000
LONGEST_SIDE = 2400
FORMATS = ("JPEG", "PNG", "WEBP")
CONTENT_TYPE = "image/jpeg"


class PhotoRefusal(ValueError):
    """What came is no photo that can be kept. Carries a sentence to show."""


def path_of(hash_: str) -> str:
    return f"photos/{hash_[:2]}/{hash_}.jpg"


def keep(upload: BinaryIO, *, by: str, at: datetime) -> Photo:
    """Keep one photo and return it; the same picture again is the same row.

    It is turned upright, made 2,400 pixels at most and written anew as JPEG, so that camera notes (place, serial,
    thumbnail) and anything hidden behind the picture are left out. Raises PhotoRefusal.
    """
    body = _upright(_read(upload))
    hash_ = hashlib.sha256(body).hexdigest()
    known = Photo.objects.filter(pk=hash_).first()
    if not default_storage.exists(path_of(hash_)):
        default_storage.save(path_of(hash_), ContentFile(body))
    return known or Photo.objects.create(
        hash=hash_, content_type=CONTENT_TYPE, size=len(body), taken_by=by, received_at=at
    )


def keep_as_sent(body: bytes, *, by: str, at: datetime) -> str:
    """Keep a phone's photo under the hash of what was sent too; returns that hash. Raises PhotoRefusal."""
    sent = hashlib.sha256(body).hexdigest()
    with transaction.atomic():
        photo = keep(io.BytesIO(body), by=by, at=at)
        if photo.pk != sent:
            PhotoAsSent.objects.bulk_create([PhotoAsSent(hash=sent, photo=photo)], ignore_conflicts=True)
    return sent


def named(hashes: Iterable[str]) -> dict[str, Photo]:
    """Photos by the hashes that scans name them by: of what is kept, or of what was sent. Two queries."""
    wanted = {one for one in hashes if one}
    if not wanted:
        return {}
    sent = PhotoAsSent.objects.filter(pk__in=wanted).select_related("photo")
    return {one.hash: one.photo for one in sent} | Photo.objects.in_bulk(wanted)


def _read(upload: BinaryIO) -> bytes:
    body = upload.read(MOST_BYTES + 1)
    if len(body) > MOST_BYTES:
        raise PhotoRefusal(f"This photo is larger than {MOST_BYTES // 2**20} MB. Take it smaller, or crop it.")
    if not body:
        raise PhotoRefusal("This photo is empty. Take it again.")
    return body


def _upright(body: bytes) -> bytes:
    try:
        image = Image.open(io.BytesIO(body), formats=FORMATS)
        if image.width * image.height > MOST_PIXELS:
            raise PhotoRefusal("This picture has too many pixels to be a photo. Make it smaller and try again.")
        upright = ImageOps.exif_transpose(image)
        plain = upright.convert("RGB")
    except PhotoRefusal:
        raise
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError) as error:
        raise PhotoRefusal("This file is not a photo that can be read. Use JPEG, PNG or WebP.") from error
    plain.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    plain.info = {}
    out = io.BytesIO()
    plain.save(out, "JPEG", quality=82)
    return out.getvalue()
