"""The book's icon at the address that a browser asks by itself, as with a PDF, which names none."""

from __future__ import annotations

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.templatetags.static import static
from django.views.decorators.cache import cache_control


@login_not_required
@cache_control(max_age=24 * 3600)
def icon(request: HttpRequest) -> HttpResponse:
    """On to the file itself, whose name changes with its content."""
    return redirect(static("inventory/icon.svg"))
