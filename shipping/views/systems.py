"""Systems: ready or not and why, what makes each whole, and the signature."""

from __future__ import annotations

from datetime import date

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import path
from django.utils import timezone
from django.utils.dateparse import parse_date
from django.views.decorators.http import require_http_methods, require_POST, require_safe
from django_tables2 import LazyPaginator

from inventory import ledger, signing
from inventory.access import HOUSE, KIT, allow, witness_of
from inventory.answers.readiness import readiness, readiness_of
from inventory.answers.twins import twins_told
from inventory.drawings.bays import bay_map
from inventory.forms.systems import CheckForm, PartEditForm, PartForm, SignForm, SystemForm
from inventory.frame_bays import frame_maps
from inventory.ledger import Fact, LedgerRefusal
from inventory.models import SetupCheck, System, SystemPart, Verb
from shipping import preparing, whole

PER_PAGE = 30  # each is judged whole


@require_safe
@allow(*HOUSE)
def systems(request: HttpRequest) -> HttpResponse:
    """Every system with its verdict for its next show."""
    return _list(request, SystemForm())


@require_POST
@allow(*KIT)
def add(request: HttpRequest) -> HttpResponse:
    form = SystemForm(request.POST)
    if not form.is_valid():
        return _list(request, form, status=422)
    return redirect("system", form.save().slug)


def _list(request: HttpRequest, form: SystemForm, *, status: int = 200) -> HttpResponse:
    at = timezone.now()
    leaf = LazyPaginator(System.objects.order_by("name", "pk"), PER_PAGE).get_page(request.GET.get("page", 1))
    rows = list(leaf)
    shows = preparing.next_shows(rows, at)
    days = {system.pk: preparing.day_for(shows.get(system.pk), at) for system in rows}
    told = readiness_of([(system, days[system.pk]) for system in rows], at)
    lines = [(system, shows.get(system.pk), told[system.pk, days[system.pk]]) for system in rows]
    return render(request, "shipping/systems.html", {"lines": lines, "leaf": leaf, "form": form}, status=status)


@require_safe
@allow(*HOUSE)
def system(request: HttpRequest, slug: str) -> HttpResponse:
    """One system: the verdict first, then reasons, the path, bays, parts, twins."""
    return _page(request, get_object_or_404(System, slug=slug))


def _page(request: HttpRequest, system: System, *, status: int = 200, **forms: object) -> HttpResponse:
    at = timezone.now()
    show = preparing.next_shows([system], at).get(system.pk)
    on = parse_day(request.GET.get("on", "")) or preparing.day_for(show, at)
    told = readiness(system, on, at)
    context = {
        "system": system,
        "show": show,
        "on": on,
        "told": told,
        "signature": signing.last_signature(system, at),
        "digest": signing.digest(told),
        "maps": [(one, bay_map(one.cells, title=f"Bays of {one.frame}")) for one in frame_maps(system, at)],
        "twins": twins_told(system, at, told.twins),
        "reasons": whole.reasons_together(told.reasons, told.parts),
        "remarks": whole.reasons_together(told.remarks, told.parts),
        "path": whole.acts_together(told.path),
        "groups": whole.parts_together(told),
        "checks": preparing.checks(system, at),
        "part_form": PartForm(),
        "check_form": CheckForm(),
        "sign_form": SignForm(initial={"shown": signing.digest(told)}),
    }
    return render(request, "shipping/system.html", context | forms, status=status)


def parse_day(text: str) -> date | None:
    """A day of the address, or None for anything that is no day."""
    try:
        return parse_date(text)
    except ValueError:
        return None


@require_POST
@allow(*KIT)
def sign(request: HttpRequest, slug: str) -> HttpResponse:
    """Keep that somebody signed exactly the reasons that stood on the page."""
    system, at, form = get_object_or_404(System, slug=slug), timezone.now(), SignForm(request.POST)
    on = parse_day(request.GET.get("on", "")) or preparing.day_for(
        preparing.next_shows([system], at).get(system.pk), at
    )
    told = readiness(system, on, at)
    if not form.is_valid():
        return _page(request, system, status=422, sign_form=form)
    if form.cleaned_data["shown"] != signing.digest(told):
        form.add_error(None, "Something changed while you read this page. Read the reasons again, then sign.")
        return _page(request, system, status=422, sign_form=form)
    try:
        signing.sign(system, told, words=form.cleaned_data["words"], by=witness_of(request), at=at)
    except LedgerRefusal as refusal:
        form.add_error("words", str(refusal))
        return _page(request, system, status=422, sign_form=form)
    messages.success(request, f"Signed: {told.sentence} The reasons are kept as they stood.")
    return redirect("system", system.slug)


@require_POST
@allow(*KIT)
def part_add(request: HttpRequest, slug: str) -> HttpResponse:
    system, form = get_object_or_404(System, slug=slug), PartForm(request.POST)
    if not form.is_valid():
        return _page(request, system, status=422, part_form=form)
    messages.success(request, f"{form.save_for(system)} is on the list of parts.")
    return redirect("system", system.slug)


@require_http_methods(["GET", "HEAD", "POST"])
@allow(*KIT)
def part_edit(request: HttpRequest, slug: str, pk: int) -> HttpResponse:
    """One line of the list of parts: change it, or take it off."""
    part = get_object_or_404(SystemPart.objects.select_related("system"), pk=pk, system__slug=slug)
    if "remove" in request.POST:
        part.delete()
        messages.success(request, "Off the list. The thing itself and its history stay.")
        return redirect("system", slug)
    form = PartEditForm(request.POST or None, instance=part)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, f"{part} is changed.")
        return redirect("system", slug)
    page = {"part": part, "system": part.system, "form": form}
    return render(request, "shipping/system_part.html", page, status=422 if form.is_bound else 200)


@require_POST
@allow(*KIT)
def check_add(request: HttpRequest, slug: str) -> HttpResponse:
    system, form = get_object_or_404(System, slug=slug), CheckForm(request.POST)
    if not form.is_valid():
        return _page(request, system, status=422, check_form=form)
    form.instance.system, form.instance.position = system, system.setup_checks.count()
    form.save()
    return redirect("system", system.slug)


@require_POST
@allow(*HOUSE)
def check_done(request: HttpRequest, slug: str, pk: int) -> HttpResponse:
    """Somebody looked: an entry, never a flag."""
    check = get_object_or_404(SetupCheck.objects.select_related("system"), pk=pk, system__slug=slug)
    carrier = signing.carrier(check.system)
    if carrier is None:
        messages.error(request, f"{check.system} has no thing to look at yet. Give it its parts first.")
    else:
        fact = Fact(Verb.CHECKED, carrier, rule=preparing.check_rule(check), value=check.text)
        ledger.record([fact], by=witness_of(request), at=timezone.now())
        messages.success(request, f"Kept: {check.text}.")
    return redirect("system", slug)


@require_POST
@allow(*KIT)
def check_remove(request: HttpRequest, slug: str, pk: int) -> HttpResponse:
    get_object_or_404(SetupCheck, pk=pk, system__slug=slug).delete()
    return redirect("system", slug)


urlpatterns = [
    path("systems/", systems, name="systems"),
    path("systems/add/", add, name="system-add"),
    path("system/<slug:slug>/", system, name="system"),
    path("system/<slug:slug>/sign/", sign, name="system-sign"),
    path("system/<slug:slug>/parts/", part_add, name="system-part-add"),
    path("system/<slug:slug>/parts/<int:pk>/", part_edit, name="system-part-edit"),
    path("system/<slug:slug>/checks/", check_add, name="system-check-add"),
    path("system/<slug:slug>/checks/<int:pk>/", check_done, name="system-check"),
    path("system/<slug:slug>/checks/<int:pk>/remove/", check_remove, name="system-check-remove"),
]
