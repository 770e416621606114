"""The page of a leg and of a vehicle: what the rules say of it, and what a person does about that."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.utils import timezone
from django.views.decorators.http import require_POST

from inventory.access import CREW, HOUSE, LEADS, allow, witness_of
from inventory.ledger import LedgerRefusal
from inventory.models import Kind
from inventory.naming import item_named
from shipping import looking, waiving
from shipping.forms.cases import WaiveForm
from shipping.leg_sheet import sheet_of_leg, sheet_of_vehicle
from shipping.models import Leg
from shipping.packing.lifting import CAUTION
from shipping.packing.rules import RULES
from shipping.planning import findings_for_leg
from shipping.views.cases import may_act
from shipping.views.freight import leg_at


@allow(*HOUSE)
def leg_page(request: HttpRequest, pk: int) -> HttpResponse:
    return show_leg(request, leg_at(pk))


def show_leg(request: HttpRequest, leg: Leg, refused: str = "") -> HttpResponse:
    """The page, as it stands or after a refusal (422) with its sentence."""
    context = {
        "sheet": sheet_of_leg(leg, timezone.now()), "leg": leg, "refused": refused, "may_act": may_act(request),
        "caution": CAUTION,
    }  # fmt: skip
    return render(request, "shipping/leg.html", context, status=422 if refused else 200)


@require_POST
@allow(*CREW)
def leg_confirm(request: HttpRequest, pk: int) -> HttpResponse:
    """What the driver says: each line yes, no or a number, kept as a look at the vehicle."""
    leg = leg_at(pk)
    if leg.vehicle is None:
        return show_leg(request, leg, "This leg names no vehicle, so nobody can be asked about one.")
    answers = {rule: request.POST.get(f"rule-{rule}", "") for rule in RULES}
    try:
        found = looking.confirm(leg.vehicle, answers, by=witness_of(request), at=timezone.now())
    except (looking.LookRefusal, LedgerRefusal) as no:
        return show_leg(request, leg, str(no))
    messages.success(request, f"{looking.in_words(found)}. They hold until something more is loaded.")
    return redirect("leg", pk)


@require_POST
@allow(*LEADS)
def leg_waive(request: HttpRequest, pk: int) -> HttpResponse:
    """Set a block of the leg aside, or record whose decision it is that it stands."""
    leg, form, at = leg_at(pk), WaiveForm(request.POST), timezone.now()
    if not form.is_valid():
        return show_leg(request, leg, "Say why it may stand. Where nobody can waive, also whose decision it is.")
    said = dict(form.cleaned_data)
    digest, by, show = said.pop("finding"), witness_of(request), leg.consignment.show
    finding = next((one for one in findings_for_leg(leg, at) if one.digest == digest), None)
    if finding is None:
        return show_leg(request, leg, "The facts have changed since the page was shown. Look again.")
    leads = show.lead is None or show.lead.name == by.name
    try:
        made = waiving.waive(finding, by=by, at=at, leads_show=leads, reference=show.code, **said)
    except waiving.WaiveRefusal as no:
        return show_leg(request, leg, str(no))
    messages.success(request, "The decision is recorded." if made.is_decision else "Waived, while these facts stand.")
    return redirect("leg", pk)


@allow(*HOUSE)
def vehicle(request: HttpRequest, number: str) -> HttpResponse:
    """A vehicle: what it may carry, what is in it, and what stands in the way of its next legs."""
    item = item_named(number)
    if item is None or item.type.kind != Kind.VEHICLE:
        raise Http404(f"No vehicle is called {number}. Look it up under Where is…")
    sheet = sheet_of_vehicle(item, timezone.now())
    context = {"sheet": sheet, "container": getattr(item.type, "container", None), "caution": CAUTION}
    return render(request, "shipping/vehicle.html", context)


urlpatterns = [
    path("leg/<int:pk>/", leg_page, name="leg"),
    path("leg/<int:pk>/confirm/", leg_confirm, name="leg-confirm"),
    path("leg/<int:pk>/waive/", leg_waive, name="leg-waive"),
    path("vehicle/<str:number>/", vehicle, name="vehicle"),
]
