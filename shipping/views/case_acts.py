"""What a person does on a case's page. Each act goes back to the page, or shows it with the reason it was refused."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import path
from django.utils import timezone
from django.views.decorators.http import require_POST

from inventory import photos
from inventory.access import CREW, LEADS, allow, witness_of
from inventory.ledger import LedgerRefusal, Witness
from inventory.models import Item
from inventory.naming import item_named
from shipping import looking, sealing, stowing, waiving
from shipping.forms.cases import BreakSealForm, PackForm, SealForm, TakeOutForm, WaiveForm, WeighForm
from shipping.models import Show
from shipping.packing.rules import RULES
from shipping.planning import coming_leg, findings_for_case
from shipping.tables.cases import address
from shipping.views.cases import case_called, show_case

REFUSALS = (
    sealing.SealRefusal,
    stowing.StowRefusal,
    looking.LookRefusal,
    waiving.WaiveRefusal,
    LedgerRefusal,
    photos.PhotoRefusal,
)
Act = Callable[[Item, dict, Witness, datetime], str]


def _run(request: HttpRequest, number: str, name: str, form: forms.Form, act: Act) -> HttpResponse:
    """Parse, act, and go back with what was done; or show the page again with what was wrong."""
    case, at = case_called(number), timezone.now()
    if not form.is_valid():
        return show_case(request, case, at, **{name: form})
    try:
        said = act(case, form.cleaned_data, witness_of(request), at)
    except REFUSALS as no:
        return show_case(request, case, at, refused=str(no), findings=getattr(no, "findings", []), **{name: form})
    messages.success(request, said)
    return redirect(address(case))


def _show(case: Item, at: datetime) -> Show | None:
    leg = coming_leg(case, at)
    return leg.consignment.show if leg else None


def _thing(text: str) -> Item:
    item = item_named(text)
    if item is None:
        raise stowing.StowRefusal(f"Nothing in the book is called {text}. Look it up under Where is…, or add it.")
    return item


@require_POST
@allow(*CREW)
def seal(request: HttpRequest, number: str) -> HttpResponse:
    def act(case: Item, said: dict, by: Witness, at: datetime) -> str:
        sealing.seal(case, said["number"], by=by, at=at, show=_show(case, at))
        return f"{case} is sealed with {said['number']}."

    return _run(request, number, "seal", SealForm(request.POST, auto_id="seal_%s"), act)


@require_POST
@allow(*CREW)
def break_seal(request: HttpRequest, number: str) -> HttpResponse:
    """The break is a fact and stands, even where the rules then refuse the new seal."""

    def act(case: Item, said: dict, by: Witness, at: datetime) -> str:
        sealing.break_seal(case, by=by, at=at, **said)
        if not said["new"]:
            return f"The seal of {case} is broken. What is in it counts as “was in here” until it is looked at."
        sealing.seal(case, said["new"], by=by, at=at, show=_show(case, at))
        return f"The seal of {case} was broken, and {said['new']} is on now."

    return _run(request, number, "break_seal", BreakSealForm(request.POST, auto_id="break_seal_%s"), act)


@require_POST
@allow(*CREW)
def pack(request: HttpRequest, number: str) -> HttpResponse:
    def act(case: Item, said: dict, by: Witness, at: datetime) -> str:
        item = _thing(said["thing"])
        stowing.pack([item], case, by=by, at=at, bay=said["slot"], show=_show(case, at))
        return f"{item} is in {case}{' slot ' + said['slot'] if said['slot'] else ''}."

    return _run(request, number, "pack", PackForm(request.POST, auto_id="pack_%s"), act)


@require_POST
@allow(*CREW)
def take_out(request: HttpRequest, number: str) -> HttpResponse:
    def act(case: Item, said: dict, by: Witness, at: datetime) -> str:
        item = _thing(said["thing"])
        entry = stowing.take_out(item, case, by=by, at=at, note=said["note"])
        return f"{item} is out of {case}, at {entry.place}."

    return _run(request, number, "take_out", TakeOutForm(request.POST, auto_id="take_out_%s"), act)


@require_POST
@allow(*CREW)
def weigh(request: HttpRequest, number: str) -> HttpResponse:
    def act(case: Item, said: dict, by: Witness, at: datetime) -> str:
        grams = looking.read_mass(said["scale"])
        looking.weigh(case, grams, by=by, at=at)
        return f"{case}: {grams / 1000:g} kg on the scale."

    return _run(request, number, "weigh", WeighForm(request.POST, auto_id="weigh_%s"), act)


@require_POST
@allow(*CREW)
def confirm(request: HttpRequest, number: str) -> HttpResponse:
    """The short list of looks: each line yes, no or a measure; or everything at once, as the photo shows."""

    def act(case: Item, said: dict, by: Witness, at: datetime) -> str:
        if "all" in request.POST:
            picture = request.FILES.get("photo")
            photo = photos.keep(picture, by=by.name, at=at) if picture else None
            return f"{looking.in_words(looking.as_in_the_photo(case, by=by, at=at, photo=photo))}, as in the photo."
        answers = {rule: request.POST.get(f"rule-{rule}", "") for rule in RULES}
        return f"{looking.in_words(looking.confirm(case, answers, by=by, at=at))}."

    return _run(request, number, "confirm", forms.Form(request.POST), act)


@require_POST
@allow(*LEADS)
def waive(request: HttpRequest, number: str) -> HttpResponse:
    def act(case: Item, said: dict, by: Witness, at: datetime) -> str:
        digest = said.pop("finding")
        finding = next((one for one in findings_for_case(case, at) if one.digest == digest), None)
        if finding is None:
            raise waiving.WaiveRefusal("The facts have changed since the page was shown. Look again.")
        show = _show(case, at)
        leads = show is not None and (show.lead is None or show.lead.name == by.name)
        made = waiving.waive(finding, by=by, at=at, leads_show=leads, reference=show.code if show else "", **said)
        return "The decision is recorded." if made.is_decision else "Waived. It stands while these facts do."

    return _run(request, number, "waive", WaiveForm(request.POST, auto_id="waive_%s"), act)


urlpatterns = [
    path("case/<str:number>/seal/", seal, name="case-seal"),
    path("case/<str:number>/break-seal/", break_seal, name="case-break-seal"),
    path("case/<str:number>/pack/", pack, name="case-pack"),
    path("case/<str:number>/take-out/", take_out, name="case-take-out"),
    path("case/<str:number>/weigh/", weigh, name="case-weigh"),
    path("case/<str:number>/confirm/", confirm, name="case-confirm"),
    path("case/<str:number>/waive/", waive, name="case-waive"),
]
