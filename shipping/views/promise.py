"""What can we promise: the sentence first, then the strip, then each clash written out."""

from __future__ import annotations

from datetime import timedelta

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory.access import HOUSE, allow
from shipping import availability
from shipping.forms.shows import PromiseForm
from shipping.models import Show
from shipping.strips import promise_strip


@require_safe
@allow(*HOUSE)
def promise(request: HttpRequest) -> HttpResponse:
    """Asked by address, so that an answer can be sent to somebody as a link."""
    at = timezone.now()
    asked = bool(request.GET)
    start = {"leaves_at": at + timedelta(days=7), "back_at": at + timedelta(days=14)}
    form = PromiseForm(request.GET) if asked else PromiseForm(initial=start)
    context: dict[str, object] = {"form": form}
    if asked and form.is_valid():
        data = form.cleaned_data
        things = [*data["systems"], *data["sets"]]
        told = availability.promise(things, data["leaves_at"], data["back_at"], at)
        codes = {span.show for one in told.things for span in one.spans}
        shows = {show.code: show for show in Show.objects.filter(code__in=codes)}
        context |= {"told": told, "strip": promise_strip(told, shows)}
    status = 422 if asked and not form.is_valid() else 200
    return render(request, "shipping/promise.html", context, status=status)


urlpatterns = [path("promise/", promise, name="promise")]
