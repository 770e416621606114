"""The packing desk: which thing in which case, which case on which vehicle, and how good that is."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.shortcuts import render
from django.urls import path, reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from inventory.access import HOUSE, LEADS, allow, witness_of
from shipping import desk, plan_accepting, solving
from shipping.access import leads, must_lead, show_or_404
from shipping.desk import Desk
from shipping.desk_changes import changes
from shipping.forms.packing import QuestionForm
from shipping.models import PlanRun, Show
from shipping.packing.overload import WayOut
from shipping.plan_accepting import PlanRefusal, Taken
from shipping.planning.going import Question
from shipping.solving import SearchRefusal


def asked(request: HttpRequest, show: Show) -> tuple[QuestionForm, Question]:
    """The question in the address; the plain one where it cannot be read, with the reasons on the form."""
    form = QuestionForm(request.GET, show=show)
    return form, form.question if form.is_valid() else Question()


def back(request: HttpRequest, show: Show) -> HttpResponseRedirect:
    query = request.GET.urlencode()
    return HttpResponseRedirect(reverse("packing", args=[show.code]) + (f"?{query}" if query else ""))


@require_safe
@allow(*HOUSE)
def packing(request: HttpRequest, code: str) -> HttpResponse:
    show = show_or_404(request, code)
    form, question = asked(request, show)
    return desk_page(request, show, form, question, timezone.now(), 422 if form.errors else 200)


def desk_page(
    request: HttpRequest, show: Show, form: QuestionForm, question: Question, at: datetime, status: int = 200
) -> HttpResponse:
    found = desk.desk_of(show, question, at)
    meaning, word, sentence = desk.verdict(found)
    context = {
        "show": show, "desk": found, "form": form, "meaning": meaning, "word": word, "sentence": sentence,
        "progress": desk.progress_words(found.run, at), "leads": leads(request, show) and not show.cancelled_at,
        "changes": changes(found), "ways": _ways(request, found),
        "asked": request.GET.urlencode(), "is_what_if": not question.is_plain,
    }  # fmt: skip
    return render(request, "shipping/packing.html", context, status=status)


def _ways(request: HttpRequest, found: Desk) -> list[tuple[WayOut, str]]:
    """Each way out with the question that takes it, as an address; none for a vehicle that is yet to be hired."""
    return [(way, _address(request, found, way)) for way in found.over.ways]


def _address(request: HttpRequest, found: Desk, way: WayOut) -> str:
    query = request.GET.copy()
    if way.cases:
        query.setlist("leave", sorted({*query.getlist("leave"), *way.cases}))
    elif way.vehicle:
        query.setlist("van", [*(sorted(found.vans) if way.name == "as well" else []), way.vehicle])
    else:
        return ""
    return query.urlencode()


@require_safe
@allow(*HOUSE)
def status(request: HttpRequest, code: str) -> JsonResponse:
    """What a page asks every second: two small queries, whatever the size of the load."""
    show = show_or_404(request, code)
    run = _run(show, request.GET.get("run", ""))
    kept = solving.newest(show, run.input_digest) if run else None
    return JsonResponse(desk.progress(run, kept, timezone.now()))


def _run(show: Show, ident: str) -> PlanRun | None:
    try:
        return PlanRun.objects.filter(show=show, pk=UUID(ident)).first()
    except ValueError:
        return None


@require_POST
@allow(*LEADS)
def search(request: HttpRequest, code: str) -> HttpResponse:
    """Begin to look for a better plan; the page then improves by itself."""
    show = show_or_404(request, code)
    must_lead(request, show)
    _, question = asked(request, show)
    try:
        solving.start(show, question, by=witness_of(request).name, at=timezone.now())
    except SearchRefusal as refusal:
        messages.error(request, str(refusal))
    return back(request, show)


@require_POST
@allow(*LEADS)
def stop(request: HttpRequest, code: str) -> HttpResponse:
    """Ask the search to stop. What it has found by then stays."""
    show = show_or_404(request, code)
    must_lead(request, show)
    run = _run(show, request.POST.get("run", ""))
    if run is not None and run.ended_at is None:
        solving.ask_to_stop(run, by=witness_of(request).name)
        messages.success(request, "The search stops; what it has found stays.")
    return back(request, show)


@require_POST
@allow(*LEADS)
def accept(request: HttpRequest, code: str) -> HttpResponse:
    """Take the plan as what goes where: whole, or for the one case whose button was pressed."""
    show = show_or_404(request, code)
    must_lead(request, show)
    plan, case = (request.POST.get(name, "") for name in ("plan", "case"))
    try:
        taken = plan_accepting.accept(
            show, int(plan) if plan.isdecimal() else 0, [int(case)] if case.isdecimal() else None,
            by=witness_of(request), at=timezone.now(),
        )  # fmt: skip
    except PlanRefusal as refusal:
        messages.error(request, str(refusal))
        return back(request, show)
    messages.success(request, _taken(taken, show))
    if taken.sealed:
        messages.warning(request, f"Sealed now, and to be opened for it: {', '.join(taken.sealed)}.")
    return back(request, show)


def _taken(taken: Taken, show: Show) -> str:
    cases = f"{len(taken.cases)} cases" if len(taken.cases) > 1 else taken.cases[0]
    things = f"{taken.lines} {'thing' if taken.lines == 1 else 'things'}"
    elsewhere = f"{things} in other cases than usual" if taken.lines else "everything in the usual cases"
    return f"Accepted for {show}: {cases}, {elsewhere}. Nothing has moved yet: pack by the case pages and lists."


urlpatterns = [
    path("show/<str:code>/packing/", packing, name="packing"),
    path("show/<str:code>/packing/status/", status, name="packing-status"),
    path("show/<str:code>/packing/search/", search, name="packing-search"),
    path("show/<str:code>/packing/stop/", stop, name="packing-stop"),
    path("show/<str:code>/packing/accept/", accept, name="packing-accept"),
]
