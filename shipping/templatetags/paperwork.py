"""The papers of one case, thing, show or leg, for the page of it: {% load paperwork %}{% papers_of case %}."""

from __future__ import annotations

from typing import Any

from django import template
from django.db.models import Q
from django.utils import timezone

from inventory import papers
from inventory.models import IssuedPaper, Item, Kind
from inventory.papers import Form
from inventory.registering import label_kind
from shipping.documents import forms
from shipping.documents.stowage import code_of
from shipping.models import Leg, Show

register = template.Library()


def _offered(subject: Item | Show | Leg) -> list[Form]:
    """The kinds of paper that this thing can have."""
    known = [form for form, _ in forms.BUILDERS.values()]
    if isinstance(subject, Show):
        return [form for form in known if form.per == "show"]
    if isinstance(subject, Leg):
        return [form for form in known if form.per == "leg"]
    if subject.type.kind in {Kind.CASE, Kind.VEHICLE}:
        container = getattr(subject.type, "container", None)
        drives = bool(container and container.for_drives)
        return [form for form in known if form.per == "case" and (drives or form.kind != "drive-card")]
    own = {"drive": "drive-label", "cord": "cord-flag"}.get(label_kind(subject.type), "item-label")
    return [form for form in known if form.kind in {own, "item-label"}]


def _name(subject: Item | Show | Leg) -> str:
    if isinstance(subject, Show):
        return subject.code
    return f"leg {subject.pk}" if isinstance(subject, Leg) else subject.number or code_of(subject)


@register.inclusion_tag("partials/papers.html", takes_context=True)
def papers_of(context: dict[str, Any], subject: Item | Show | Leg) -> dict[str, Any]:
    """What was issued for it, with what has changed since, and buttons to issue what it can have."""
    if isinstance(subject, Item):
        about = Q(item=subject)
    elif isinstance(subject, Show):
        about = Q(reference=subject.code, subject=subject.code)
    else:
        about = Q(subject=_name(subject))
    issued = papers.latest_of_each(IssuedPaper.objects.filter(about, kind__in=forms.BUILDERS))[:12]
    now = timezone.now()
    request = context.get("request")
    return {
        "papers": forms.looked_at(issued, now),
        "offered": _offered(subject),
        "subject": _name(subject),
        "here": request.get_full_path() if request else "",
        "csrf_token": context.get("csrf_token"),
        "is_house": context.get("is_house"),
    }
