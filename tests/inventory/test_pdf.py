"""Papers read nothing but their fonts, whatever stands in a field."""

from __future__ import annotations

import pypdfium2
import pytest

from inventory import pdf
from inventory.photos import keep
from tests.factories import T0
from tests.inventory.test_photos import picture

HOSTILE = {
    "html": '</style></svg><img src="file:///etc/passwd"><iframe src="http://127.0.0.1:9/x"></iframe><b>bold</b>',
    "css": "</style><style>@import url(http://127.0.0.1:9/x.css); body{background:url(file:///etc/passwd)}</style>",
    "attribute": '" onload="x" style="background:url(file:///etc/hosts)',
    "template": "{% include 'base.html' %}{{ settings.SECRET_KEY }}",
    "long word": "W" * 5000,
    "long text": "one two " * 900,
    "right to left": "שלום עולם \u202etxet desrever\u202c",
    "pictures": "🦊🦊🦊 👨‍👩‍👧",
    "control": "a\x00b\x07c\x1b[31md\ufffe",
}


@pytest.mark.parametrize(
    "url",
    ["file:///etc/passwd", "http://127.0.0.1:9/", "https://example.org/", "data:text/css,x", "ftp://h/", "font:../x",
     "font:next-latin-400/../../x", "FILE:///etc/passwd", "jar:file:///x", "/etc/passwd", "font:",
     "photo:../../../etc/passwd", "photo:" + "0" * 64,
     "photo:" + "g" * 64],
)  # fmt: skip
def test_the_fetcher_opens_fonts_and_kept_photos_and_nothing_else(url):
    fetcher = pdf.OnlyOurOwn()
    with pytest.raises(pdf.Refused):
        fetcher.fetch(url)
    assert fetcher.refused == [url]


def test_a_kept_photo_is_opened_by_its_hash(db):
    kept = keep(picture(), by="Ida", at=T0)
    answer = pdf.OnlyOurOwn().fetch(f"photo:{kept.hash}")
    assert answer.read()[:3] == b"\xff\xd8\xff"


def test_every_font_the_stylesheet_names_is_there():
    for path in pdf.fonts().values():
        assert path.read_bytes()[:4] == b"wOF2"


def test_a_paper_has_its_title_and_only_embedded_fonts():
    label = {"letters": "HER", "digits": "07", "code": "3479ACE", "kind": "frame"}
    made = pdf.render("documents/case-label.html", {"paper": {"title": "Case HER-07", "labels": [label]}})
    document = pypdfium2.PdfDocument(made)
    assert document.get_metadata_dict()["Title"] == "Case HER-07"
    texts = [o for o in document[0].get_objects(max_depth=9) if o.type == pypdfium2.raw.FPDF_PAGEOBJ_TEXT]
    fonts = {(text.get_font().get_base_name().partition("+")[2], text.get_font().is_embedded) for text in texts}
    assert all(name.startswith("Atkinson-Hyperlegible") and embedded for name, embedded in fonts)
    assert {name for name, _ in fonts} >= {"Atkinson-Hyperlegible-Mono-Bold"}


@pytest.mark.parametrize("words", HOSTILE.values(), ids=HOSTILE)
def test_hostile_text_stays_inside_one_label_and_opens_nothing(words):
    names = ("letters", "digits", "system", "colour", "kind", "room", "code", "n_of_n", "trip", "mass", "lift", "guide",
             "seal", "owner", "printed")  # fmt: skip
    label = dict.fromkeys(names, words) | {"band": "blue", "marks": [{"kind": "fragile", "limit": ""}]}
    fetcher = pdf.OnlyOurOwn()
    made = pdf.render("documents/case-label.html", {"paper": {"title": words, "labels": [label] * 2}}, fetcher=fetcher)
    document = pypdfium2.PdfDocument(made)
    assert len(document) == 2
    assert fetcher.refused == []
    assert "root:" not in document[0].get_textpage().get_text_range()
    assert {(round(page.get_width()), round(page.get_height())) for page in document} == {(283, 425)}


def test_the_same_data_gives_the_same_bytes():
    label = {"letters": "HER", "digits": "07", "code": "3479ACE", "qr": "HTTPS://GEAR.EXAMPLE.ORG/T/3479ACE"}
    context = {"paper": {"title": "x", "labels": [label]}}
    assert pdf.render("documents/case-label.html", context) == pdf.render("documents/case-label.html", context)
