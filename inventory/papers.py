"""Papers as issued: frozen data, a reprint that is the same, and what has changed since."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import Any

from django.conf import settings
from django.db import IntegrityError, models, transaction
from django.utils import timezone

from inventory import pdf
from inventory.answers.values import plain
from inventory.drawings.svg import clean
from inventory.models import IssuedPaper, Item

DOCUMENTS = "templates/documents"
CAUTION = (
    "A guide from entered figures, not an approval; follow local rules and the person in charge. "
    "Lifting: for a good grip and a short carry; height, reach and people change it."
)
# Papers about hands and content: nobody lifts by them.
OF_CONTENT = frozenset({"custody-sheet", "release-request", "release-note", "sanitisation-record", "receipt"})
CONTENT_CAUTION = (
    "What the book said when this was printed, not an approval. Whether content may be erased is for its owner to say."
)
LONGEST = 400  # characters of a field that a paper prints, our longest caution among them; all of it stands in the book
TRIES = 5
# Told as of the printing: a paper does not go stale by them.
PASSING = frozenset({"sure", "by_now", "ticked", "condition", "besides", "plain", "most", "bay_map"})
# Where nothing is printed there is a line for the pen, so what is known only later makes nothing stale.
BY_HAND = frozenset({"seal", "holder", "phone"})
NOTHING: tuple[object, ...] = (None, "", [], False)


SIZES = {
    "100x150": "100 × 150 mm",
    "100x150-black": "100 × 150 mm, black only",
    "62x29": "62 × 29 mm",
    "62x22": "62 × 22 mm",
    "90x24": "90 × 24 mm",
    "100x50": "100 × 50 mm",
    "a6": "A6",
    "a5": "A5",
    "a4": "A4",
    "letter": "Letter",
}


@dataclass(frozen=True, slots=True)
class Form:
    """A kind of paper. `per` is what it is about; `values` marks what only the house may print."""

    kind: str
    words: str
    per: str
    media: tuple[str, ...]
    values: bool = False
    copies: int = 1

    @property
    def sizes(self) -> list[tuple[str, str]]:
        """Each medium it can be printed on, with what people call it."""
        return [(medium, SIZES[medium]) for medium in self.media]

    @property
    def is_label(self) -> bool:
        return self.kind.endswith(("label", "flag", "tag"))


@dataclass(frozen=True, slots=True)
class Draft:
    """What would be printed now: the body is a frozen dataclass of plain values, without ages and without a clock."""

    form: Form
    medium: str
    subject: str
    title: str
    body: Any
    reference: str = ""
    item: Item | None = None


# Who builds papers says which of these would be printed otherwise now: what an issue holds tells nothing of today.
judges: list[Callable[[Sequence[IssuedPaper], datetime], set[int]]] = []


def stale(issued: Sequence[IssuedPaper], at: datetime) -> set[int]:
    """The keys of those that would be printed otherwise now."""
    return {key for judge in judges for key in judge(issued, at)} if issued else set()


def moment(at: datetime) -> str:
    """A time as papers print it, in the current time zone."""
    return f"{timezone.localtime(at):%d %b %Y %H:%M}"


def frozen(value: Any) -> Any:
    """The body as JSON-ready data whose texts are one line each, without control characters, of bounded length."""
    data = plain(value)
    if isinstance(data, dict):
        return {key: frozen(item) for key, item in data.items()}
    if isinstance(data, list):
        return [frozen(item) for item in data]
    if isinstance(data, str):
        words = clean(data)
        return words if len(words) <= LONGEST else words[: LONGEST - 1] + "…"
    return data


def digest(data: Any) -> str:
    """SHA-256 of the data in one fixed writing."""
    written = json.dumps(data, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(written.encode()).hexdigest()


@cache
def form_digest(kind: str) -> str:
    """SHA-256 of everything that shapes this kind of paper: its templates, the stylesheet, the drawings."""
    documents = settings.BASE_DIR / DOCUMENTS
    found, waiting = {}, [f"{kind}.html"]
    while waiting:
        name = waiting.pop()
        found[name] = (documents / name).read_bytes()
        waiting += set(re.findall(r'"documents/([\w-]+\.html)"', found[name].decode())) - set(found)
    shaping = [documents / "print.css", *sorted((settings.BASE_DIR / "inventory/drawings").glob("*.py"))]
    parts = [found[name] for name in sorted(found)] + [path.read_bytes() for path in shaping]
    return hashlib.sha256(b"\0".join(parts)).hexdigest()


def newest(draft: Draft) -> IssuedPaper | None:
    """The last issue of this paper in this medium."""
    return (
        IssuedPaper.objects.filter(
            kind=draft.form.kind, reference=draft.reference, subject=draft.subject, medium=draft.medium
        )
        .order_by("-number")
        .first()
    )


def issue(draft: Draft, *, by: str, at: datetime) -> IssuedPaper:
    """Freeze a draft as the next issue; where nothing has changed since the last one, that one is the paper.

    Two people who press at once get two numbers, or the same paper.
    """
    for _ in range(TRIES):
        try:
            with transaction.atomic():
                return _next_issue(draft, by, at)
        except IntegrityError:
            continue
    raise RuntimeError(f"{draft.title} is being issued by several people at once. Try again.")


def _next_issue(draft: Draft, by: str, at: datetime) -> IssuedPaper:
    body, last = frozen(draft.body), newest(draft)
    made, shape = digest(body), form_digest(draft.form.kind)
    if last is not None and (last.data_digest, last.template_digest) == (made, shape):
        return last
    data = {"title": clean(draft.title), "address": settings.PUBLIC_URL, "printed": moment(at), "body": body}
    data["replaces"] = f"issue {last.number}, {last.data['printed']}" if last else ""
    return IssuedPaper.objects.create(
        kind=draft.form.kind, reference=draft.reference, subject=draft.subject, item=draft.item,
        number=last.number + 1 if last else 1, medium=draft.medium, data=data, data_digest=made,
        template_digest=shape, issued_at=at, issued_by=by, replaces=last,
    )  # fmt: skip


def code_of(paper: IssuedPaper) -> str:
    """The short code of one issue, to say on a radio or type: P12."""
    return f"P{paper.pk}"


def _heading(paper: IssuedPaper) -> dict[str, Any]:
    data = paper.data
    return {
        "title": data["title"],
        "number": paper.number,
        "printed": data["printed"],
        "by": paper.issued_by,
        "replaces": data["replaces"],
        "code": code_of(paper),
        "qr": f"{data['address']}/P/{paper.pk}".upper(),
        "medium": paper.medium,
        "site": data["address"],
        "caution": CONTENT_CAUTION if paper.kind in OF_CONTENT else CAUTION,
    }


def _label(paper: IssuedPaper) -> dict[str, Any]:
    issued = f"issue {paper.number} · {paper.data['printed']}"
    replaces = f"replaces {paper.data['replaces'].split(',')[0]}" if paper.data["replaces"] else ""
    return {**paper.data["body"], "printed": issued, "replaces": replaces}


def sheet(papers: Sequence[IssuedPaper], *, copies: int = 1) -> bytes:
    """Labels of one kind and medium in one PDF, each so many times, in the order given."""
    first = papers[0]
    labels = [_label(paper) for paper in papers for _ in range(copies)]
    per_page = {"case-label": 2, "item-label": 24}.get(first.kind, 1)
    is_sheet = first.medium.startswith(("a4", "letter"))
    context = {
        **_heading(first),
        "labels": labels,
        "pages": [list(page) for page in batches(labels, per_page)] if is_sheet else [],
        "is_sheet": is_sheet,
        "black": first.medium.endswith("black"),
        "paper_size": "letter" if first.medium.startswith("letter") else "a4",
    }
    return pdf.render(f"documents/{first.kind}.html", {"paper": context})


def batches(rows: Sequence[Any], size: int) -> list[Sequence[Any]]:
    return [rows[start : start + size] for start in range(0, len(rows), size)]


def pdf_of(paper: IssuedPaper, form: Form) -> bytes:
    """The paper as issued: its signed bytes if it has any, else its frozen data in print."""
    if paper.signed_bytes is not None:
        return bytes(paper.signed_bytes)
    if form.is_label:
        return sheet([paper], copies=form.copies)
    return pdf.render(f"documents/{paper.kind}.html", {"paper": _heading(paper), "body": paper.data["body"]})


def changes(paper: IssuedPaper, body: Any) -> list[str]:
    """What a paper says that would no longer be printed, in short sentences; empty while it is current."""
    return _differences("", paper.data["body"], frozen(body))[:8]


def _differences(name: str, before: Any, now: Any) -> list[str]:
    if before == now or name in PASSING or (name in BY_HAND and not before):
        return []
    if before in NOTHING and now in NOTHING:  # a field that papers of then did not have yet
        return []
    if isinstance(before, dict) and isinstance(now, dict):
        keys = [*now, *(key for key in before if key not in now)]
        return [line for key in keys for line in _differences(key, before.get(key), now.get(key))]
    if isinstance(before, list) and isinstance(now, list):
        return _lines_changed(name, before, now)
    return [f"{name.replace('_', ' ')}: {_said(before)}, now {_said(now)}"]


def _lines_changed(name: str, before: list[Any], now: list[Any]) -> list[str]:
    """Rows are matched by their key, so that a row more does not make every row after it look changed."""
    old, new = ({_key(row): row for row in rows} for rows in (before, now))
    gone = [f"no longer: {_said(row)}" for key, row in old.items() if key not in new]
    more = [f"new: {_said(row)}" for key, row in new.items() if key not in old]
    both = [
        f"{_said(new[key])}: {line}" if isinstance(new[key], dict) else line
        for key in new
        if key in old
        for line in _differences(name, old[key], new[key])
    ]
    moved = [] if list(map(_key, before)) == list(map(_key, now)) else [f"{name.replace('_', ' ')}: another order"]
    return gone + more + both or moved


def _key(row: Any) -> str:
    return str(row.get("key")) if isinstance(row, Mapping) and row.get("key") else json.dumps(row, sort_keys=True)


def _said(value: Any) -> str:
    if isinstance(value, Mapping):
        return str(value.get("words") or value.get("label") or value.get("key") or "a line")
    return "nothing" if value in NOTHING else f"{value}"


def latest_of_each(papers: models.QuerySet[IssuedPaper]) -> models.QuerySet[IssuedPaper]:
    """The last issue of each paper among these, newest first."""
    replaced = IssuedPaper.objects.filter(replaces=models.OuterRef("pk"))
    return papers.filter(~models.Exists(replaced)).order_by("-issued_at", "-id")
