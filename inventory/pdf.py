"""Paper: a template and its data to PDF bytes. The only importer of weasyprint."""

from __future__ import annotations

import re
import threading
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

import weasyprint
from django.conf import settings
from django.core.files.storage import default_storage
from django.template.loader import render_to_string
from PIL import ImageFile
from weasyprint.text.fonts import FontConfiguration
from weasyprint.urls import URLFetcher, URLFetcherResponse

from inventory.photos import CONTENT_TYPE, path_of

# Importing weasyprint makes Pillow read half pictures everywhere; a half photo must stay refused.
ImageFile.LOAD_TRUNCATED_IMAGES = False

STYLESHEET = Path("templates/documents/print.css")
FAMILIES = {"next": (400, 700, 800), "mono": (400, 700)}
PHOTO = re.compile(r"photo:([0-9a-f]{64})")
_SCHEME = "font:"
# Pango and fontconfig keep state of the process; one paper at a time.
_one_at_a_time = threading.Lock()


class Refused(ValueError):
    """A paper asked for something outside itself."""


def fonts() -> dict[str, Path]:
    """The only files a paper may read, by the address the stylesheet gives them."""
    base = settings.BASE_DIR / "node_modules" / "@fontsource"
    return {
        f"{_SCHEME}{family}-{part}-{weight}": base
        / f"atkinson-hyperlegible-{family}"
        / "files"
        / f"atkinson-hyperlegible-{family}-{part}-{weight}-normal.woff2"
        for family, weights in FAMILIES.items()
        for weight in weights
        for part in ("latin", "latin-ext")
    }


def photo(url: str) -> bytes | None:
    """The kept photo of an address like photo:<64 hexadecimal digits>; None for anything else."""
    found = PHOTO.fullmatch(url)
    if found is None or not default_storage.exists(path_of(found[1])):
        return None
    with default_storage.open(path_of(found[1])) as file:
        return file.read()


class OnlyOurOwn(URLFetcher):
    """Opens the fonts above and photos kept by their hash, and nothing else: no file, no network, no data address."""

    def __init__(self) -> None:
        super().__init__(allowed_protocols=())
        self.refused: list[str] = []

    def fetch(self, url: str, headers: Mapping[str, str] | None = None) -> URLFetcherResponse:
        if (picture := photo(url)) is not None:
            return URLFetcherResponse(url, picture, {"Content-Type": CONTENT_TYPE})
        path = fonts().get(url)
        if path is None:
            self.refused.append(url)
            raise Refused(f"A paper may not open {url}.")
        return URLFetcherResponse(url, path.read_bytes(), {"Content-Type": "font/woff2"})


@lru_cache(maxsize=1)
def _stylesheet(changed: float) -> tuple[weasyprint.CSS, FontConfiguration]:
    """The one stylesheet, parsed once for as long as its file stays as it is."""
    faces = FontConfiguration()
    source = (settings.BASE_DIR / STYLESHEET).read_text()
    sheet = weasyprint.CSS(string=source, font_config=faces, url_fetcher=OnlyOurOwn(), base_url=_SCHEME)
    return sheet, faces


def render(template: str, context: Mapping[str, Any], *, fetcher: OnlyOurOwn | None = None) -> bytes:
    """Render a template of templates/documents/ to PDF. Text in the context can neither load nor run anything."""
    html = render_to_string(template, dict(context))
    with _one_at_a_time:
        sheet, faces = _stylesheet((settings.BASE_DIR / STYLESHEET).stat().st_mtime)
        document = weasyprint.HTML(string=html, url_fetcher=fetcher or OnlyOurOwn(), base_url=_SCHEME)
        return document.write_pdf(stylesheets=[sheet], font_config=faces, pdf_tags="label" not in template)
