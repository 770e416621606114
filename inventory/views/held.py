"""What phones sent that is no entry yet: one page, each with a tap to let it count or to note it as seen."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import path
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from inventory import accepting
from inventory.access import KIT, allow, witness_of
from inventory.models import SetAside

MOST = 100  # the oldest first; the rest follows as these are answered


@require_safe
@allow(*KIT)
def held(request: HttpRequest) -> HttpResponse:
    """Every upload that waits for a word, whichever phone or pass it came from."""
    context = {
        "rows": accepting.in_words(accepting.waiting(most=MOST)),
        "count": accepting.count_waiting(),
        "most": MOST,
    }
    return render(request, "inventory/held.html", context)


@require_POST
@allow(*KIT)
def answer(request: HttpRequest, pk: int) -> HttpResponse:
    """Accept it at its own moment, or note it as seen."""
    row, by, at = get_object_or_404(SetAside, pk=pk), witness_of(request), timezone.now()
    try:
        if request.POST.get("answer") == "accept":
            accepting.accept(row, by=by, at=at)
            messages.success(request, "Accepted. It counts from the moment it happened.")
        else:
            accepting.decline(row, by=by, at=at)
            messages.success(request, "Noted as seen. It stays kept, and counts for nothing.")
    except accepting.AcceptRefused as why:
        messages.error(request, str(why))
    return redirect("held")


urlpatterns = [path("held/", held, name="held"), path("held/<int:pk>/", answer, name="held-answer")]
