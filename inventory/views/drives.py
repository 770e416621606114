"""Drive sets: where each drive is, what is on it, and may we wipe it."""

from __future__ import annotations

from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import path
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory.access import ANYONE, HOUSE, allow, role_of
from inventory.answers.holders import holders
from inventory.client_drives import client_page, client_pages, references_of, sets_of
from inventory.drive_pages import set_page, set_pages
from inventory.drive_records import client_scope_of, records_of, scope_of
from inventory.models import DriveSet, Role
from inventory.views.drive_acts import act_titles, acts_for

PAGE = 25


@require_safe
@allow(*ANYONE)
def drive_sets(request: HttpRequest) -> HttpResponse:
    """Every set with its answer, a page at a time; a client's own content only."""
    at = timezone.now()
    if role_of(request.user) == Role.CLIENT:
        references = references_of(request.user.person)
        pages = client_pages(sets_of(references, at), references, at)
        return render(request, "inventory/drive_sets_client.html", {"pages": pages})
    leaf = Paginator(DriveSet.objects.select_related("host"), PAGE).get_page(request.GET.get("page"))
    pages = set_pages(list(leaf.object_list), at)
    return render(request, "inventory/drive_sets.html", {"leaf": leaf, "pages": pages})


@require_safe
@allow(*ANYONE)
def drive_set(request: HttpRequest, slug: str) -> HttpResponse:
    """Verdict first, then why, the bays, each drive, the decisions, and what may be done."""
    role, at = role_of(request.user), timezone.now()
    if role not in HOUSE:
        own = client_page(slug, references_of(request.user.person), at)
        if own is None:
            raise Http404(slug)
        return render(
            request,
            "inventory/drive_set_client.html",
            {"page": own, "acts": acts_for(role, client_scope_of(own, request.user.person))},
        )
    page = set_page(get_object_or_404(DriveSet.objects.select_related("host"), slug=slug), at)
    scope = scope_of(page)
    context = {
        "page": page, "records": records_of(page, at), "acts": acts_for(role, scope), "titles": act_titles(role, scope),
    }  # fmt: skip
    return render(request, "inventory/drive_set.html", context)


@require_safe
@allow(*HOUSE)
def drive_hands(request: HttpRequest) -> HttpResponse:
    """Who holds drives tonight, whom to ring, and what is overdue."""
    at = timezone.now()
    found = holders(at)
    late = sum(one.late for one in found)
    return render(request, "inventory/drive_hands.html", {"holders": found, "late": late, "at": at})


urlpatterns = [
    path("sets/hands/", drive_hands, name="drive-hands"),
    path("sets/", drive_sets, name="drive-sets"),
    path("set/<slug:slug>/", drive_set, name="drive-set"),
]
