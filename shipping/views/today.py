"""The first page: what needs this person now."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory.access import ANYONE, allow, role_of
from inventory.models import Role
from shipping.access import shows_for
from shipping.today import needs


@require_safe
@allow(*ANYONE)
def today(request: HttpRequest) -> HttpResponse:
    """One list for the house; for a client, the shows that are theirs."""
    at, role = timezone.now(), role_of(request.user)
    own = shows_for(request).select_related("venue").order_by("-starts_at") if role == Role.CLIENT else []
    return render(request, "shipping/today.html", {"at": at, "needs": needs(role, at), "own": own})


urlpatterns = [path("", today, name="today")]
