"""The set of that show: which drives held it, since when, where they are, and may they be wiped."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory.access import ANYONE, HOUSE, allow, role_of
from inventory.answers.show_set import set_of_show, show_subject
from inventory.models import DriveSet
from shipping.access import shows_for


@require_safe
@allow(*ANYONE)
def show_set(request: HttpRequest, code: str) -> HttpResponse:
    """A client sees only that its content was on these drives; the house also where they are and what may be done.

    The house may ask for a show that is in the ledger alone.
    """
    show = shows_for(request).filter(code=code).first()
    is_house = role_of(request.user) in HOUSE
    if show is None and not (is_house and show_subject(code)):
        raise Http404(code)
    told = set_of_show(show.code if show else code.upper(), timezone.now())
    page = {
        "show": show,
        "title": show.name if show else told.reference,
        "told": told,
        "is_house": is_house,
        "sets": DriveSet.objects.filter(name__in={one.drive_set for one in told.drives}),
    }
    return render(request, "shipping/show_set.html", page)


urlpatterns = [path("show/<str:code>/set/", show_set, name="show-set")]
