"""One act on one thing: its form, its sentence, and back to the thing. And the desk, for several at once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.utils import timezone

from inventory import amending, handling, photos, trials
from inventory.access import CREW, KIT, LEADS, allow, role_of, witness_of
from inventory.answers.owned import Owned
from inventory.answers.twins import alike_to
from inventory.answers.values import Whereabouts
from inventory.forms import acts as the_forms
from inventory.handling import Remarks
from inventory.ledger import LedgerRefusal, Witness
from inventory.models import Item, Kind, Photo
from inventory.naming import item_named
from inventory.photos import PhotoRefusal
from inventory.registering import inside_of

Data = dict[str, Any]
Do = Callable[[Item, Data, Witness, datetime], object]


@dataclass(frozen=True, slots=True)
class Act:
    """A page with one form: its words, who may, which things it fits, and what it does."""

    key: str
    title: str
    button: str
    form: type[forms.Form]
    do: Do
    done: str
    roles: tuple[str, ...] = CREW
    fits: Callable[[Item], bool] = lambda item: item.retired_at is None
    warning: str = ""
    needs_fault: bool = False  # where no fault is open, there is nothing to do


def remarks_of(data: Data) -> Remarks:
    return Remarks(
        note=data.get("note", ""),
        condition=data.get("condition", ""),
        photo=data.get("kept_photo"),
        reference=data.get("reference", ""),
        happened_at=data.get("happened_at"),
    )


def _put(item: Item, data: Data, by: Witness, at: datetime) -> object:
    return handling.put([item], data["place"], bay=data["bay"], by=by, at=at, remarks=remarks_of(data))


def _check_in(item: Item, data: Data, by: Witness, at: datetime) -> object:
    return handling.check_in([item], data["place"], by=by, at=at, remarks=remarks_of(data))


def _hand_over(item: Item, data: Data, by: Witness, at: datetime) -> object:
    return handling.hand_over([item], data["person"], due_at=data["due_at"], by=by, at=at, remarks=remarks_of(data))


def _fault(item: Item, data: Data, by: Witness, at: datetime) -> object:
    return handling.report_fault(item, data["what"], photo=data.get("kept_photo"), shelf=data["shelf"], by=by, at=at)


def _mend(item: Item, data: Data, by: Witness, at: datetime) -> object:
    return handling.mend(item, data["what"], photo=data.get("kept_photo"), by=by, at=at)


def _inspect(item: Item, data: Data, by: Witness, at: datetime) -> object:
    return handling.inspect(
        item, passed=data["passed"], next_due=data["next_due"], by=by, at=at, remarks=remarks_of(data)
    )


def _test_run(item: Item, data: Data, by: Witness, at: datetime) -> object:
    told = {name: data[name] for name in ("hours", "software", "show_file", "note")}
    return trials.record(item, by=by, at=at, **told)


def _find(item: Item, data: Data, by: Witness, at: datetime) -> object:
    return handling.find(item, data["place"], by=by, at=at, remarks=remarks_of(data))


def _write_off(item: Item, data: Data, by: Witness, at: datetime) -> object:
    return handling.write_off(item, data["reason"], consumed=data["consumed"], by=by, at=at)


def _stands(item: Item) -> bool:
    return item.retired_at is None


def _is_one(item: Item) -> bool:
    return _stands(item) and not item.is_lot


def _is_counted(item: Item) -> bool:
    return _stands(item) and item.is_lot


def _can_run(item: Item) -> bool:
    return _is_one(item) and item.type.kind not in (Kind.CASE, Kind.VEHICLE)


_ALL = (
    Act("put", "Put it somewhere", "Put it there", the_forms.PutForm, _put, "Recorded: {item} is there."),
    Act("check-in", "Check in", "Check in", the_forms.CheckInForm, _check_in, "{item} is checked in."),
    Act("hand-over", "Check out to a person", "Hand over", the_forms.HandOverForm, _hand_over,
        "{item} is handed over."),
    Act("fault", "Report a fault", "Report it", the_forms.FaultForm, _fault, "The fault of {item} stands in the book."),
    Act("mend", "Close its faults", "Close the faults", the_forms.MendForm, _mend, "The faults of {item} are closed.",
        LEADS, needs_fault=True),
    Act("inspect", "Record an inspection", "Record it", the_forms.InspectForm, _inspect,
        "The inspection of {item} stands in the book.", LEADS),
    Act("test-run", "Record a test run", "Record it", the_forms.TestRunForm, _test_run,
        "The test run of {item} stands in the book.", fits=_can_run),
    Act("miss", "Mark missed", "It was looked for and not found", the_forms.MissForm,
        lambda item, data, by, at: handling.miss(item, note=data["note"], by=by, at=at),
        "{item} is marked missed. Its last known place stays in the book."),
    Act("find", "Found", "It is here", the_forms.PutForm, _find, "{item} is found."),
    Act("count", "Count", "That many", the_forms.CountForm,
        lambda item, data, by, at: handling.count(item, data["quantity"], note=data["note"], by=by, at=at),
        "The count of {item} stands in the book.", fits=_is_counted),
    Act("swap", "Swap with its twin", "Swap their homes", the_forms.OtherThingForm,
        lambda item, data, by, at: handling.swap_homes(item, data["other"], data["reason"], by=by, at=at),
        "{item} and its twin have changed homes.", KIT, fits=_is_one,
        warning="Both change system, set and home case. Nothing moves by this; put them where they are now."),
    Act("replace", "Replace by another", "Let the other take over", the_forms.OtherThingForm,
        lambda item, data, by, at: handling.replace(item, data["other"], data["reason"], by=by, at=at),
        "{item} is replaced.", KIT, warning="The other thing takes over its system, its set and its home case."),
    Act("label", "New label", "Give it this code", the_forms.LabelForm,
        lambda item, data, by, at: amending.give_label(item, code=data["code"], at=at),
        "{item} has a further code. Print its label.", LEADS),
    Act("write-off", "Write off", "Write it off", the_forms.WriteOffForm, _write_off,
        "{item} is written off. Its history stays.", KIT,
        warning="It leaves the stock for good. What it held, and its codes, stay in the book."),
)  # fmt: skip
ACTS = {act.key: act for act in _ALL}


def keep_photo(data: Data, by: Witness, at: datetime) -> Photo | None:
    upload = data.get("photo")
    return photos.keep(upload, by=by.name, at=at) if upload else None


def _sent(request: HttpRequest) -> tuple[Any, Any]:
    """What a form is bound to: an empty submission is one too."""
    return (request.POST, request.FILES) if request.method == "POST" else (None, None)


@allow(*CREW)
def item_act(request: HttpRequest, code: str, key: str) -> HttpResponse:
    """Ask what an act needs, do it, and go back to the thing."""
    act, item = ACTS.get(key), item_named(code)
    if act is None or item is None:
        raise Http404(code)
    if role_of(request.user) not in act.roles:
        raise PermissionDenied(f"“{act.title}” is for {' and '.join(act.roles)}s. Nothing was changed.")
    form = act.form(*_sent(request))
    if isinstance(form, the_forms.OtherThingForm):
        form.offer([(other.pk, _alike_words(other, where)) for other, where in alike_to(item, timezone.now())])
    if request.method == "POST" and form.is_valid() and _done(act, item, form, request):
        return redirect("item", code=code)
    page = {"act": act, "item": item, "form": form, "code": code}
    return render(request, "inventory/act.html", page, status=422 if request.method == "POST" else 200)


def _alike_words(other: Owned, where: Whereabouts) -> str:
    """Its serial, whose it is, and where it is: what tells one of a kind from the next."""
    serial = other.serial if other.serial not in other.ref.words else ""
    called = " ".join(filter(None, (other.ref.words, serial)))
    return f"{called}, {f'of {other.system}' if other.system else 'of no system'}. {where.sentence}"


def _done(act: Act, item: Item, form: forms.Form, request: HttpRequest) -> bool:
    """Do it; a refusal becomes a sentence above the form."""
    by, at = witness_of(request), timezone.now()
    try:
        act.do(item, {**form.cleaned_data, "kept_photo": keep_photo(form.cleaned_data, by, at)}, by, at)
    except (LedgerRefusal, PhotoRefusal) as refusal:
        form.add_error("photo" if isinstance(refusal, PhotoRefusal) else None, str(refusal))
        return False
    messages.success(request, act.done.format(item=item))
    return True


@allow(*CREW)
def desk(request: HttpRequest) -> HttpResponse:
    """Check in, put, or hand over several things: item by item or case by case."""
    form = the_forms.DeskForm(*_sent(request), initial=request.GET.dict())
    if request.method == "POST" and form.is_valid() and _desk_done(form, request):
        return redirect("desk")
    return render(request, "inventory/desk.html", {"form": form}, status=422 if request.method == "POST" else 200)


def _desk_done(form: forms.Form, request: HttpRequest) -> bool:
    by, at = witness_of(request), timezone.now()
    data = form.cleaned_data
    try:
        data["kept_photo"] = keep_photo(data, by, at)
        _at_the_desk(data, by, at)
    except (LedgerRefusal, PhotoRefusal) as refusal:
        form.add_error(None, str(refusal))
        return False
    names = ", ".join(str(item) for item in data["things"])
    messages.success(request, f"Recorded for {len(data['things'])}: {names[:300]}.")
    return True


def _at_the_desk(data: Data, by: Witness, at: datetime) -> None:
    items, remarks = data["things"], remarks_of(data)
    if data["doing"] == "hand-over":
        handling.hand_over(items, data["person"], due_at=data["due_at"], by=by, at=at, remarks=remarks)
        return
    place = inside_of(data["container"]) if data["container"] else data["place"]
    if data["doing"] == "check-in":
        handling.check_in(items, place, by=by, at=at, remarks=remarks)
    else:
        handling.put(items, place, by=by, at=at, remarks=remarks)


urlpatterns = [
    path("item/<str:code>/<slug:key>/", item_act, name="item-act"),
    path("desk/", desk, name="desk"),
]
