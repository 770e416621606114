"""The papers of one case, thing, show or leg, for the page of it: {% load paperwork %}{% papers_of case %}."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from django import template
from django.db.models import Q
from django.utils import timezone

from inventory import papers
from inventory.models import DriveSet, IssuedPaper, Item, Kind, System
from inventory.papers import Form
from inventory.registering import label_kind
from shipping.documents import forms
from shipping.models import BorderList, Leg, Show

register = template.Library()
Subject = Item | Show | Leg | DriveSet | System | BorderList
PER: dict[type, str] = {Show: "show", Leg: "leg", DriveSet: "set", System: "system", BorderList: "border list"}
WRONG = [forms.form_of(kind) for kind in ("fault-tag", "damage-report")]  # anything can break
VEHICLE_ONLY = "truck-sheet"
SHOWN = 16  # papers a page lists; the rest stand on the page of all papers


@dataclass(frozen=True, slots=True)
class Offer:
    """One button: a kind of paper, what it is about, and what tells it from its neighbours."""

    form: Form
    subject: str
    about: str = ""


def _kinds(subject: Subject) -> list[Form]:
    """The kinds of paper that this thing can have."""
    known = [form for form, _ in forms.BUILDERS.values()]
    if not isinstance(subject, Item):
        return [form for form in known if form.per == PER[type(subject)]]
    if subject.type.kind in {Kind.CASE, Kind.VEHICLE}:
        container = getattr(subject.type, "container", None)
        drives = bool(container and container.for_drives)
        return [form for form in known if form.per == "case" and (drives or form.kind != "drive-card")] + WRONG
    own = {"drive": "drive-label", "cord": "cord-flag"}.get(label_kind(subject.type), "item-label")
    return [form for form in known if form.kind in {own, "item-label"}] + WRONG


def _name(subject: Subject) -> str:
    if isinstance(subject, Show):
        return subject.code
    if isinstance(subject, DriveSet | System):
        return subject.slug
    if isinstance(subject, BorderList):
        return f"list {subject.pk}"
    return f"leg {subject.pk}" if isinstance(subject, Leg) else subject.number or subject.code


def _legs(show: Show) -> list[Leg]:
    return list(Leg.objects.filter(consignment__show=show).select_related("vehicle", "from_place", "to_place"))


def _leg_words(leg: Leg) -> str:
    return f"{leg.vehicle or leg.carrier or leg.mode}, {leg.from_place} to {leg.to_place}"


def _offers(subject: Subject, legs: list[Leg]) -> list[Offer]:
    kinds = _kinds(subject)
    if isinstance(subject, Leg):
        kinds = [form for form in kinds if subject.vehicle_id or form.kind != VEHICLE_ONLY]
    own = [Offer(form, _name(subject)) for form in kinds]
    return own + [Offer(form, _name(leg), _leg_words(leg)) for leg in legs for form in _of_leg(leg)]


def _of_leg(leg: Leg) -> list[Form]:
    """On a show's page: a vehicle of ours needs no manifest there, its own page offers one."""
    spare = "manifest" if leg.vehicle_id else VEHICLE_ONLY
    return [form for form in _kinds(leg) if form.kind != spare]


def _about(subject: Subject, legs: list[Leg]) -> Q:
    """The issued papers that belong on its page; a show's page has those of its legs too."""
    if isinstance(subject, Item):
        return Q(item=subject)
    if isinstance(subject, Leg | DriveSet | System | BorderList):
        return Q(subject=_name(subject), kind__in=[form.kind for form in _kinds(subject)])
    return Q(reference=subject.code, subject__in=[subject.code, *map(_name, legs)])


def _surroundings(context: dict[str, Any]) -> dict[str, Any]:
    request = context.get("request")
    return {
        "here": request.get_full_path() if request else "",
        "csrf_token": context.get("csrf_token"),
        "is_house": context.get("is_house"),
    }


@register.inclusion_tag("partials/papers.html", takes_context=True)
def papers_of(context: dict[str, Any], subject: Subject) -> dict[str, Any]:
    """What was issued for it, with what has changed since, and buttons to issue what it can have."""
    legs = _legs(subject) if isinstance(subject, Show) else []
    issued = papers.latest_of_each(IssuedPaper.objects.filter(_about(subject, legs), kind__in=forms.BUILDERS))[:SHOWN]
    shown = forms.looked_at(list(issued), timezone.now()) if context.get("is_house") else []
    return {"papers": shown, "offered": _offers(subject, legs), **_surroundings(context)}


@register.inclusion_tag("partials/print_buttons.html", takes_context=True)
def print_buttons(context: dict[str, Any], subject: Subject) -> dict[str, Any]:
    """Only the buttons, for a page that is looked at in a hurry."""
    return {"offered": _offers(subject, []), **_surroundings(context)}


@register.inclusion_tag("partials/print_buttons.html", takes_context=True)
def print_button(context: dict[str, Any], kind: str, subject: object, prefix: str = "") -> dict[str, Any]:
    """One button for one paper about something that has no page of its own: a wipe, a release, a hand-over."""
    form = forms.form_of(kind)
    plain = replace(form, media=form.media[:1])
    return {"offered": [Offer(plain, f"{prefix} {subject}".strip())], **_surroundings(context)}
