"""Everything that nobody has said yet, as one list to work down."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ObjectDoesNotExist
from django.core.paginator import Paginator
from django.db import transaction
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path, reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from inventory.access import KIT, allow, witness_of
from inventory.answers.unknown import BY_KEY, GAPS, Gap
from inventory.forms.working import NotRead, settle
from inventory.models import Kind

FIRST = 10
PER_PAGE = 50


@allow(*KIT)
@require_GET
def work_list(request: HttpRequest) -> HttpResponse:
    """All kinds of unknown with their first rows, or one kind whole."""
    return _page(request)


def _page(request: HttpRequest, failed: dict[str, Any] | None = None, status: int = 200) -> HttpResponse:
    chosen = BY_KEY.get(request.GET.get("only", ""))
    groups = [_group(gap, request, PER_PAGE if chosen else FIRST) for gap in ([chosen] if chosen else GAPS)]
    filled = [group for group in groups if group["count"]]
    context = {
        "groups": filled,
        "only": chosen,
        "total": sum(group["count"] for group in filled),
        "failed": failed,
        "kinds": Kind,
    }
    return render(request, "inventory/work_list.html", context, status=status)


def _group(gap: Gap, request: HttpRequest, size: int) -> dict[str, Any]:
    pages = Paginator(gap.rows(), size)
    page = pages.get_page(request.GET.get("page") if request.GET.get("only") else 1)
    return {"gap": gap, "count": pages.count, "page": page, "rows": list(page.object_list)}


@allow(*KIT)
@require_POST
def settle_one(request: HttpRequest, key: str, pk: int) -> HttpResponse:
    """Keep one answer and come back to where the person was."""
    gap, text = BY_KEY.get(key), request.POST.get("value", "").strip()
    if gap is None or not gap.asks:
        raise Http404
    try:
        with transaction.atomic():
            said = settle(gap, pk, text, by=witness_of(request), at=timezone.now())
    except ObjectDoesNotExist:
        raise Http404 from None
    except NotRead as problem:
        return _page(request, {"key": key, "pk": pk, "text": text, "sentence": str(problem)}, status=422)
    messages.success(request, said)
    only = f"?only={key}" if request.POST.get("only") else ""
    return redirect(f"{reverse('work-list')}{only}#{key}")


urlpatterns = [
    path("work-list/", work_list, name="work-list"),
    path("work-list/<slug:key>/<int:pk>/", settle_one, name="work-list-settle"),
]
