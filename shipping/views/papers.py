"""Papers on the screen: issue, open as issued, see which are stale."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import path, reverse
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.text import slugify
from django.views.decorators.http import require_POST, require_safe

from inventory import papers
from inventory.access import HOUSE, allow, device_of, role_of, witness_of
from inventory.models import IssuedPaper, System
from shipping.documents.forms import BUILDERS, NoSuchPaper, draft, drafts, form_of, labels_of, looked_at

MOST_LABELS = 500
PER_PAGE = 25  # each line is compared with what would be printed now


def _may_print(request: HttpRequest, kind: str, reference: str) -> None:
    """The house prints all; a pass only papers without values, of its own show. Raises PermissionDenied."""
    if role_of(request.user) is not None:
        return
    device = device_of(request)
    day_pass = device.day_pass if device else None
    if day_pass is None or day_pass.revoked_at is not None or day_pass.valid_until < timezone.now():
        raise PermissionDenied("This pass is over. Ask for a new one, or sign in.")
    if form_of(kind).values or reference != day_pass.reference:
        raise PermissionDenied("A pass prints the papers of its own show that carry no values. Ask the road lead.")


@require_safe
@allow(*HOUSE)
def paper_list(request: HttpRequest) -> HttpResponse:
    """The last issue of every paper, newest first; the stale ones say what has changed."""
    rows = papers.latest_of_each(IssuedPaper.objects.filter(kind__in=BUILDERS))
    page = Paginator(rows, PER_PAGE).get_page(request.GET.get("page"))
    now = timezone.now()
    shown = looked_at(list(page), now)
    context = {"page": page, "papers": shown, "stale": [one for one in shown if one.changed]}
    return render(request, "shipping/papers.html", context)


@require_safe
@allow(*HOUSE, passes=True)
def paper(request: HttpRequest, pk: int) -> HttpResponse:
    """The PDF as issued."""
    issued = get_object_or_404(IssuedPaper, pk=pk, kind__in=BUILDERS)
    _may_print(request, issued.kind, issued.reference)
    made = papers.pdf_of(issued, form_of(issued.kind))
    return _pdf(made, f"{issued.kind} {issued.subject} {papers.code_of(issued)}")


@require_safe
@allow(*HOUSE)
def paper_code(request: HttpRequest, pk: int) -> HttpResponse:
    """What the code on a paper opens: is this one still the newest, and does it still hold?"""
    issued = get_object_or_404(IssuedPaper.objects.select_related("item"), pk=pk, kind__in=BUILDERS)
    later = issued.replaced_by.order_by("-pk").first()
    return render(request, "shipping/paper.html", {"one": looked_at([issued], timezone.now())[0], "later": later})


@require_POST
@allow(*HOUSE, passes=True)
def paper_issue(request: HttpRequest, kind: str, subject: str) -> HttpResponse:
    """Issue a paper and open it; an unchanged one is the paper that was issued last."""
    if kind not in BUILDERS:
        raise Http404(f"There is no paper called {kind}.")
    at = timezone.now()
    try:
        made = draft(kind, subject, request.POST.get("medium", ""), at)
    except NoSuchPaper as problem:
        messages.error(request, str(problem))
        return redirect(_back(request))
    _may_print(request, kind, made.reference)
    return redirect("paper", papers.issue(made, by=witness_of(request).name, at=at).pk)


@require_POST
@allow(*HOUSE)
def paper_labels(request: HttpRequest, slug: str) -> HttpResponse:
    """Issue one kind of label for everything of a system, then open them as one PDF."""
    system, at = get_object_or_404(System, slug=slug), timezone.now()
    try:
        kind = request.POST.get("kind", "case-label")
        made = drafts(kind, labels_of(system, kind), request.POST.get("medium", ""), at)
    except NoSuchPaper as problem:
        made = []
        messages.error(request, str(problem))
    if not made:
        messages.error(request, f"{system} has nothing that wears this label.")
        return redirect(_back(request))
    issued = [papers.issue(one, by=witness_of(request).name, at=at) for one in made]
    return redirect("paper-sheet", "-".join(str(one.pk) for one in issued))


@require_safe
@allow(*HOUSE)
def paper_sheet(request: HttpRequest, of: str) -> HttpResponse:
    """Several issued labels of one kind and medium in one PDF, as issued."""
    wanted = [int(part) for part in of.split("-") if part.isdecimal() and len(part) < 10]
    found = {one.pk: one for one in IssuedPaper.objects.filter(pk__in=wanted[:MOST_LABELS])}
    issued = [found[pk] for pk in wanted if pk in found]
    kinds = {(one.kind, one.medium) for one in issued}
    if len(kinds) != 1 or not form_of(issued[0].kind).is_label:
        raise Http404("These are not labels of one kind for one roll or sheet.")
    made = papers.sheet(issued, copies=form_of(issued[0].kind).copies)
    return _pdf(made, f"{issued[0].kind} {len(issued)}")


def _pdf(made: bytes, name: str) -> HttpResponse:
    response = HttpResponse(made, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{slugify(name)}.pdf"'
    return response


def _back(request: HttpRequest) -> str:
    """Where the button was, if that is one of our own pages."""
    target = request.POST.get("next", "")
    if url_has_allowed_host_and_scheme(target, {request.get_host()}, request.is_secure()):
        return target
    return reverse("papers")


urlpatterns = [
    path("papers/", paper_list, name="papers"),
    path("paper/<int:pk>/", paper, name="paper"),
    path("paper/labels/<slug:slug>/", paper_labels, name="paper-labels"),
    path("paper/sheet/<str:of>/", paper_sheet, name="paper-sheet"),
    path("P/<int:pk>", paper_code, name="paper-code"),
    path("paper/issue/<slug:kind>/<path:subject>/", paper_issue, name="paper-issue"),
]
