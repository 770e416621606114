"""One drive by itself: what ends each reason of its answer, and the acts that need no set."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.urls import path, reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from inventory.access import HOUSE, KIT, allow
from inventory.answers.values import Reason
from inventory.drive_records import own_scope_of
from inventory.models import Item, Kind
from inventory.naming import item_named
from inventory.own_drive import WayOut, own_page
from inventory.views.drive_acts import ACTS, Subject, act_page, act_titles, acts_for
from inventory.ways_out import OF_A_SET


@dataclass(frozen=True, slots=True)
class Leads:
    """A reason as the page shows it: `links` are (address, words) of what this reader may do about it."""

    reason: Reason
    links: tuple[tuple[str, str], ...]


def content_context(drive: Item, code: str, role: str | None, at: datetime) -> dict[str, Any]:
    """What a drive's own page says of its content, and what the reader may do about it."""
    page = own_page(drive, at)
    scope = own_scope_of(page)
    titles = act_titles(role, scope)
    leads = [Leads(one.reason, tuple(_links(one, code, role, titles))) for one in page.ways_out(titles)]
    acts = [(group, [act for act in found if act.key not in OF_A_SET]) for group, found in acts_for(role, scope)]
    return {"card": page.card, "leads": leads, "drive_acts": [(group, found) for group, found in acts if found]}


def _links(one: WayOut, code: str, role: str | None, titles: dict[str, str]) -> list[tuple[str, str]]:
    own = [(reverse("own-drive-act", args=[code, key]), titles[key]) for key in one.own]
    of_sets = [(reverse("drive-act", args=[each.slug, key]), f"{each}: {titles[key]}") for each, key in one.of_sets]
    mends = [(reverse("item-edit", args=[code]), "Enter its serial")] if one.edits and role in KIT else []
    return own + of_sets + mends


@require_http_methods(["GET", "HEAD", "POST"])
@allow(*HOUSE)
def own_drive_act(request: HttpRequest, code: str, key: str) -> HttpResponse:
    """Ask what an act on this one drive needs, do it, and go back to the drive."""
    drive = item_named(code)
    if drive is None or drive.type.kind != Kind.DRIVE or key in OF_A_SET:
        raise Http404(code)
    page = own_page(drive, timezone.now())
    back = f"{reverse('item', args=[code])}#content"
    return act_page(request, ACTS.get(key), Subject(drive, own_scope_of(page), page.card.answer.sentence, back))


urlpatterns = [path("item/<str:code>/drive/<slug:key>/", own_drive_act, name="own-drive-act")]
