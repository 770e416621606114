"""Photos are kept once, upright, small, and without what the camera wrote about the place."""

from __future__ import annotations

import importlib
import io

import pytest
from PIL import Image

from inventory import photos
from inventory.models import Photo
from inventory.photos import PhotoRefusal, keep
from tests.factories import T0

GPS, ORIENTATION = 0x8825, 0x0112


def picture(size=(40, 20), form="JPEG", **more) -> io.BytesIO:
    image = Image.new("RGB", size, "white")
    image.paste("black", (0, 0, size[0] // 4, size[1]))
    out = io.BytesIO()
    image.save(out, form, **more)
    out.seek(0)
    return out


def stored(photo: Photo) -> Image.Image:
    with photos.default_storage.open(photos.path_of(photo.hash)) as file:
        return Image.open(io.BytesIO(file.read()))


def test_a_photo_is_turned_upright_and_loses_the_place_it_was_taken(db):
    exif = Image.Exif()
    exif[ORIENTATION] = 6
    exif.get_ifd(GPS)[1] = "N"
    kept = stored(keep(picture(exif=exif), by="Ida Penrake", at=T0))
    assert kept.size == (20, 40)
    assert not kept.getexif()


def test_the_same_picture_twice_is_one_photo(db):
    first, again = (keep(picture(), by=name, at=T0) for name in ("Ida Penrake", "Pim Osgood"))
    assert first == again
    assert Photo.objects.get().taken_by == "Ida Penrake"


def test_a_large_picture_is_made_smaller(db):
    assert max(stored(keep(picture((5000, 100)), by="Ida Penrake", at=T0)).size) == photos.LONGEST_SIDE


@pytest.mark.parametrize("form", ["PNG", "WEBP"])
def test_other_formats_become_jpeg(db, form):
    photo = keep(picture(form=form), by="Ida Penrake", at=T0)
    assert stored(photo).format == "JPEG" and photo.content_type == "image/jpeg"


@pytest.mark.parametrize(
    "body,sentence",
    [
        (b"", "empty"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "not a photo"),
        (b"\xff\xd8\xff\xe0 and nothing more", "not a photo"),
        (b"GIF89a" + b"\0" * 40, "not a photo"),
        (b"x" * (photos.MOST_BYTES + 1), "larger than 12 MB"),
    ],
)
def test_what_is_no_photo_is_refused_with_a_sentence(db, body, sentence):
    with pytest.raises(PhotoRefusal, match=sentence):
        keep(io.BytesIO(body), by="Ida Penrake", at=T0)
    assert not Photo.objects.exists()


def test_a_half_photo_is_refused_though_the_pdf_writer_would_read_it(db):
    importlib.import_module("inventory.pdf")
    with pytest.raises(PhotoRefusal, match="not a photo"):
        keep(io.BytesIO(picture((400, 400)).getvalue()[:900]), by="Ida Penrake", at=T0)


def test_a_picture_of_too_many_pixels_is_refused_before_it_is_unpacked(db, monkeypatch):
    monkeypatch.setattr(photos, "MOST_PIXELS", 100)
    with pytest.raises(PhotoRefusal, match="too many pixels"):
        keep(picture(), by="Ida Penrake", at=T0)
