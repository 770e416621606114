"""The floor plan of a leg's vehicle: drawn, with its record, improved in place by a search, and accepted."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import path, reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from inventory.access import KIT, allow
from inventory.models import ContainerType, Item, Kind
from shipping import deck_page, deck_solving, decks, solving
from shipping.desk import progress, progress_words
from shipping.documents.around import Around
from shipping.forms.decks import DeckForm, DeckQuestionForm
from shipping.models import Leg, PlanRun
from shipping.planning.drive import DeckQuestion
from shipping.solving import SearchRefusal
from shipping.views.gate import Bearer, dock_page
from shipping.views.loads import the_leg


def asked(request: HttpRequest, leg: Leg) -> tuple[DeckQuestionForm, DeckQuestion]:
    """The question in the address; the plain one where it cannot be read, with the reasons on the form."""
    around = Around([leg], timezone.now())
    legs = decks.together(leg, around)
    form = DeckQuestionForm(request.GET, leg=leg, stops=decks.stops_of(legs), cases=decks.cases_of(legs, around))
    return form, form.question if form.is_valid() else decks.PLAIN


def back(request: HttpRequest, leg: Leg) -> HttpResponseRedirect:
    query = request.GET.urlencode()
    return HttpResponseRedirect(reverse("floor", args=[leg.pk]) + (f"?{query}" if query else ""))


@dock_page
@require_safe
def floor(request: HttpRequest, pk: int) -> HttpResponse:
    leg, bearer = the_leg(request, pk)
    at = timezone.now()
    form, question = asked(request, leg)
    context = {"leg": leg, "bearer": bearer, "form": form, "asked": request.GET.urlencode(),
               "is_what_if": not question.is_plain}  # fmt: skip
    try:
        page = deck_page.page_of(leg, at, question)
        context |= {"page": page, "progress": progress_words(page.run, at)}
    except (decks.NoDeck, decks.NoPlan) as why:
        context["why_not"] = str(why)
    return render(request, "shipping/floor.html", context, status=422 if form.errors else 200)


@dock_page
@require_safe
def floor_status(request: HttpRequest, pk: int) -> JsonResponse:
    """What a page asks every second while a search runs."""
    leg, _ = the_leg(request, pk)
    run = _run(leg, request.GET.get("run", ""))
    kept = deck_solving.newest([run.leg or leg], run.input_digest) if run else None
    return JsonResponse(progress(run, kept, timezone.now()))


def _run(leg: Leg, ident: str) -> PlanRun | None:
    """A search for this leg's drive, begun from any leg of the show."""
    try:
        return PlanRun.objects.filter(show=leg.consignment.show_id, leg__isnull=False, pk=UUID(ident)).first()
    except ValueError:
        return None


@dock_page
@require_POST
def floor_search(request: HttpRequest, pk: int) -> HttpResponse:
    """Begin to look for a better plan; the page then improves by itself."""
    leg, bearer = _lead(request, pk)
    _, question = asked(request, leg)
    try:
        deck_solving.start(leg, question, by=bearer.witness.name, at=timezone.now())
    except (decks.NoDeck, SearchRefusal) as why:
        messages.error(request, str(why))
    return back(request, leg)


def _lead(request: HttpRequest, pk: int) -> tuple[Leg, Bearer]:
    leg, bearer = the_leg(request, pk)
    if not bearer.is_lead:
        raise PermissionDenied("Only a road lead or kit manager plans the floor. Show them this page.")
    return leg, bearer


@dock_page
@require_POST
def floor_stop(request: HttpRequest, pk: int) -> HttpResponse:
    """Ask the search to stop. What it has found by then stays."""
    leg, bearer = _lead(request, pk)
    run = _run(leg, request.POST.get("run", ""))
    if run is not None and run.ended_at is None:
        solving.ask_to_stop(run, by=bearer.witness.name)
        messages.success(request, "The search stops; what it has found stays.")
    return back(request, leg)


@dock_page
@require_POST
def floor_accept(request: HttpRequest, pk: int) -> HttpResponse:
    """Take the plan on the page as the one to load by."""
    leg, bearer = _lead(request, pk)
    plan = request.POST.get("plan", "")
    number = int(plan) if plan.isdecimal() and len(plan) < 18 else 0
    try:
        kept = deck_solving.accept(leg, number, by=bearer.witness, at=timezone.now())
        left = f" {kept.left} stay behind: see below." if kept.left else ""
        messages.success(request, f"Accepted: load by this plan; the truck load sheet prints it.{left}")
    except (decks.NoDeck, deck_solving.DeckRefusal) as why:
        messages.error(request, str(why))
    return back(request, leg)


@allow(*KIT)
def deck_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """The deck and axles of a vehicle's type. Back to the leg that asked, if one did."""
    vehicle = get_object_or_404(Item.objects.select_related("type__container"), pk=pk, type__kind=Kind.VEHICLE)
    held = getattr(vehicle.type, "container", None) or ContainerType(item_type=vehicle.type)
    form = DeckForm(request.POST or None, instance=held)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, f"Kept. Floor plans of {vehicle} reckon with it from now on.")
        leg = request.GET.get("leg", "")
        return redirect("floor", int(leg)) if leg.isdecimal() and len(leg) < 18 else redirect("deck-edit", pk)
    return render(
        request, "shipping/deck_form.html", {"vehicle": vehicle, "form": form}, status=422 if form.errors else 200
    )


urlpatterns = [
    path("vehicle/<int:pk>/deck/", deck_edit, name="deck-edit"),
    path("leg/<int:pk>/floor/", floor, name="floor"),
    path("leg/<int:pk>/floor/status/", floor_status, name="floor-status"),
    path("leg/<int:pk>/floor/search/", floor_search, name="floor-search"),
    path("leg/<int:pk>/floor/stop/", floor_stop, name="floor-stop"),
    path("leg/<int:pk>/floor/accept/", floor_accept, name="floor-accept"),
]
