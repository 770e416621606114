"""Coming back: what is still owed, by case; checking in; closing by decision."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import path, reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from inventory import photos
from inventory.access import ANYONE, CREW, KIT, allow, role_of, witness_of
from inventory.models import Item
from shipping import receiving
from shipping.access import show_or_404
from shipping.forms.returns import CheckInForm, CloseForm, MarkForm, SealForm
from shipping.models import Show
from shipping.outcomes import Line
from shipping.receiving import ReturnRefusal, Seen
from shipping.reconcile import Reconciliation, reconcile
from shipping.returned import piles, returned_cases
from shipping.showing import return_meaning

MARKED = {"missed": "missed", "left": "left in place", "client": "with the client"}


@require_safe
@allow(*ANYONE)
def coming_back(request: HttpRequest, code: str) -> HttpResponse:
    return _page(request, show_or_404(request, code))


def _page(request: HttpRequest, show: Show, *, status: int = 200, **forms: object) -> HttpResponse:
    told = reconcile(show, timezone.now())
    cases = returned_cases(told)
    closed = getattr(show, "coming_back", None)
    is_open = closed is None or closed.closed_at is None
    context = {
        "show": show,
        "told": told,
        "meaning": return_meaning(told),
        "piles": piles(cases),
        "hired": [line for line in told.owed if line.hired_from],
        "runaways": [line for line in told.owed if line.runaway],
        "opened": request.GET.get("case", ""),
        "coming_back": closed,
        "open": is_open,
        "acts": is_open and role_of(request.user) in CREW,
        "exceptions": closed.exceptions.select_related("item__type") if closed else [],
        "seal_form": SealForm(),
        "close_form": CloseForm(cases=cases),
    }
    return render(request, "shipping/return.html", context | forms, status=status)


def _back_to(request: HttpRequest, show: Show, case: int | None = None) -> HttpResponse:
    """The page again, where the hand was: at that case, opened."""
    named = str(case or request.GET.get("case", ""))
    address = reverse("return", args=[show.code])
    return redirect(f"{address}?case={named}#case-{named}" if named.isalnum() else address)


def _line(told: Reconciliation, item: Item) -> Line | None:
    return next((line for line in told.lines if item.pk in (line.item.id, line.other.id if line.other else 0)), None)


@require_http_methods(["GET", "HEAD", "POST"])
@allow(*CREW)
def thing(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    """One thing: it is here, with condition, fault and photo."""
    show, at = show_or_404(request, code), timezone.now()
    item = get_object_or_404(Item.objects.select_related("type"), pk=pk)
    told = reconcile(show, at)
    form = CheckInForm(request.POST or None, request.FILES or None, item=item)
    if request.method != "POST":
        return _thing(request, show, item, told, form=CheckInForm(item=item))
    if not form.is_valid():
        return _thing(request, show, item, told, status=422, form=form)
    witness = witness_of(request)
    try:
        photo = photos.keep(form.cleaned_data["photo"], by=witness.name, at=at) if form.cleaned_data["photo"] else None
        in_store = receiving.is_in_store(item, at)
        receiving.check_in(show, item, form.seen(photo), in_store=in_store, by=witness, at=at)
    except (ReturnRefusal, photos.PhotoRefusal) as refusal:
        form.add_error(None, str(refusal))
        return _thing(request, show, item, told, status=422, form=form)
    messages.success(request, f"{item} is checked in.")
    return _back_to(request, show)


def _thing(
    request: HttpRequest, show: Show, item: Item, told: Reconciliation, *, status: int = 200, **forms: object
) -> HttpResponse:
    line = _line(told, item)
    context = {
        "show": show,
        "item": item,
        "line": line,
        "case": request.GET.get("case", ""),
        "mark_form": MarkForm(auto_id="mark_%s"),
        **forms,
    }
    return render(request, "shipping/return_thing.html", context, status=status)


@require_POST
@allow(*CREW)
def here(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    """One press: it is here, in its case, and nothing is wrong with it."""
    show, at = show_or_404(request, code), timezone.now()
    item = get_object_or_404(Item.objects.select_related("type"), pk=pk)
    try:
        receiving.check_in(show, item, Seen(), in_store=receiving.is_in_store(item, at), by=witness_of(request), at=at)
    except ReturnRefusal as refusal:
        messages.error(request, str(refusal))
        return redirect("return-thing", show.code, item.pk)
    messages.success(request, f"{item} is checked in.")
    return _back_to(request, show)


@require_POST
@allow(*CREW)
def mark(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    """It is not here: missed, left in place under a promise, or with the client."""
    show, at = show_or_404(request, code), timezone.now()
    item = get_object_or_404(Item.objects.select_related("type"), pk=pk)
    form = MarkForm(request.POST, auto_id="mark_%s")
    if form.is_valid():
        try:
            what = form.cleaned_data["what"]
            receiving.mark(show, item, what, mark=form.marking(), by=witness_of(request), at=at)
            messages.success(request, f"Kept: {item} is {MARKED[what]}.")
            return _back_to(request, show)
        except ReturnRefusal as refusal:
            form.add_error(None, str(refusal))
    told = reconcile(show, at)
    return _thing(request, show, item, told, status=422, form=CheckInForm(item=item), mark_form=form)


@require_POST
@allow(*CREW)
def case(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    """A case was opened and every thing listed is in it."""
    show, at = show_or_404(request, code), timezone.now()
    box = get_object_or_404(Item.objects.select_related("type", "inside"), pk=pk, inside__isnull=False)
    lines = receiving.to_look_at(reconcile(show, at), box)
    try:
        receiving.check_in_case(show, box, lines, by=witness_of(request), at=at)
        messages.success(request, f"{box}: {len(lines)} things looked at and checked in.")
    except ReturnRefusal as refusal:
        messages.error(request, str(refusal))
    return _back_to(request, show, box.pk)


@require_POST
@allow(*CREW)
def seal(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    """The seal number somebody read on a case: as expected, or not."""
    show, form = show_or_404(request, code), SealForm(request.POST)
    box = get_object_or_404(Item.objects.select_related("type"), pk=pk)
    if not form.is_valid():
        return _page(request, show, status=422, seal_form=form, sealed_case=str(box.pk))
    number, place = form.cleaned_data["number"], form.cleaned_data["place"]
    try:
        words = receiving.look_at_seal(show, box, number, place=place, by=witness_of(request), at=timezone.now())
        (messages.success if "as expected" in words else messages.warning)(request, words)
    except ReturnRefusal as refusal:
        messages.error(request, str(refusal))
    return _back_to(request, show, box.pk)


@require_POST
@allow(*KIT)
def close(request: HttpRequest, code: str) -> HttpResponse:
    show, at = show_or_404(request, code), timezone.now()
    cases = returned_cases(reconcile(show, at))
    form = CloseForm(request.POST, cases=cases)
    if not form.is_valid():
        return _page(request, show, status=422, close_form=form)
    try:
        receiving.close(show, words=form.cleaned_data["words"], why=form.why(cases), by=witness_of(request), at=at)
    except ReturnRefusal as refusal:
        form.add_error(None, str(refusal))
        return _page(request, show, status=422, close_form=form)
    messages.success(request, f"The return of {show} is closed.")
    return redirect("return", show.code)


urlpatterns = [
    path("show/<str:code>/return/", coming_back, name="return"),
    path("show/<str:code>/return/close/", close, name="return-close"),
    path("show/<str:code>/return/<int:pk>/", thing, name="return-thing"),
    path("show/<str:code>/return/<int:pk>/here/", here, name="return-here"),
    path("show/<str:code>/return/<int:pk>/mark/", mark, name="return-mark"),
    path("show/<str:code>/return/<int:pk>/case/", case, name="return-case"),
    path("show/<str:code>/return/<int:pk>/seal/", seal, name="return-seal"),
]
