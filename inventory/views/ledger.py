"""What happened, newest first; what does not fit together; and taking an act back."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.core.paginator import Page
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.utils import timezone
from django_tables2 import LazyPaginator

from inventory import ledger as book
from inventory.access import HOUSE, KIT, allow, witness_of
from inventory.answers.lines import lines_of
from inventory.answers.oddities import oddities
from inventory.forms.ledger import LedgerFilter, TakeBackForm
from inventory.models import Device, Entry, SetAside

PER_PAGE = 100
MOST_UNSENT = 50
WORDS = ("place__item__type", "drive_set", "person", "device", "label__item__type")


def _page(found: QuerySet[Entry], number: str) -> Page:
    return LazyPaginator(found, PER_PAGE).get_page(number)


@allow(*HOUSE)
def ledger(request: HttpRequest) -> HttpResponse:
    """Every entry that fits, newest first; corrections stand beside what they take back."""
    chosen = LedgerFilter(request.GET, queryset=Entry.objects.order_by("-happened_at", "-id"))
    found = chosen.qs if chosen.form.is_valid() else chosen.queryset.none()
    page = _page(found.select_related(*WORDS), request.GET.get("page", "1"))
    context = {
        "filter": chosen,
        "page": page,
        "lines": lines_of(list(page.object_list)),
        "narrowed": any(chosen.form.cleaned_data.values()) if chosen.form.is_valid() else True,
        "unsent": Device.objects.filter(unsent__gt=0).order_by("-unsent")[:MOST_UNSENT],
        "held": SetAside.objects.filter(settled_at=None, why=SetAside.Why.HELD).count(),
    }
    return render(request, "inventory/ledger.html", context)


@allow(*HOUSE)
def ledger_odd(request: HttpRequest) -> HttpResponse:
    """What does not fit together in the whole ledger, each with its way out."""
    return render(request, "inventory/ledger_odd.html", {"reasons": oddities(at=timezone.now())})


@allow(*KIT)
def take_back(request: HttpRequest, act: UUID) -> HttpResponse:
    """Show one act whole, and take it back with a reason."""
    entries = list(Entry.objects.filter(act=act).select_related(*WORDS))
    if not entries:
        raise Http404("No act has this number.")
    lines = lines_of(entries)
    may = any(line.may_be_taken_back for line in lines)
    form = TakeBackForm(request.POST or None)
    if request.method == "POST" and may and form.is_valid():
        book.correct(act, reason=form.cleaned_data["reason"], by=witness_of(request), at=timezone.now())
        messages.success(request, "Taken back. What it said no longer counts; it stays in the book.")
        return redirect("ledger")
    context = {"form": form, "lines": lines, "may": may}
    return render(request, "inventory/take_back.html", context, status=422 if request.method == "POST" else 200)


urlpatterns = [
    path("ledger/", ledger, name="ledger"),
    path("ledger/odd/", ledger_odd, name="ledger-odd"),
    path("ledger/act/<uuid:act>/", take_back, name="take-back"),
]
