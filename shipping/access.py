"""Whose show is it: who sees it, and who may change it."""

from __future__ import annotations

from django.core.exceptions import PermissionDenied
from django.db.models import QuerySet
from django.http import HttpRequest
from django.shortcuts import get_object_or_404

from inventory.access import HOUSE, role_of
from inventory.models import ClientReference, Role
from shipping.models import Show


def shows_for(request: HttpRequest) -> QuerySet[Show]:
    """The house sees every show; a client only those of its references; anybody else none."""
    if role_of(request.user) in HOUSE:
        return Show.objects.all()
    person = getattr(request.user, "person", None)
    references = ClientReference.objects.filter(person=person).values("reference")
    return Show.objects.filter(code__in=references) if person is not None else Show.objects.none()


def show_or_404(request: HttpRequest, code: str) -> Show:
    """The show with this code, if this person may see it; a client learns nothing about any other."""
    shows = shows_for(request).select_related("client", "venue", "lead")
    return get_object_or_404(shows, code=code)


def leads(request: HttpRequest, show: Show) -> bool:
    """The kit manager always; a road lead on a show that is theirs, or that has no lead yet."""
    role = role_of(request.user)
    if role == Role.KIT_MANAGER:
        return True
    person = getattr(request.user, "person", None)
    return role == Role.ROAD_LEAD and show.lead_id in (None, person.pk)


def must_lead(request: HttpRequest, show: Show) -> None:
    if not leads(request, show):
        raise PermissionDenied(f"{show} is led by {show.lead or 'somebody else'}. Ask them, or the kit manager.")
