"""Shows, as the search box finds them: by code, by name, by client, by venue."""

from __future__ import annotations

from collections.abc import Iterator

from django.urls import reverse

from inventory.answers.search import Named
from shipping.models import Show


def shows() -> Iterator[Named]:
    """Every show; a discreet one is not found by its client's name."""
    for show in Show.objects.select_related("client", "venue"):
        client = str(show.client or "") if not show.discreet else ""
        when = f"{show.starts_at:%-d %b %Y}, {show.venue or 'no venue'}"
        yield Named("show", show.code, show.name, (show.code, show.name, client, str(show.venue or "")), when)


def show_address(named: Named) -> str:
    return reverse("show", args=[named.key])
