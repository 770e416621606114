"""A closer look at lifting one case: nothing is stored, so the address is the look."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path
from django.utils import timezone

from inventory.access import HOUSE, allow
from inventory.naming import item_named
from shipping.closer_look import closer_look
from shipping.forms.lifting import LiftForm, starting_figures
from shipping.packing.lifting import CAUTION
from shipping.packing.lifting_filter import SOURCE
from shipping.planning import case_facts
from shipping.tables.cases import address
from shipping.views.cases import case_called


@allow(*HOUSE)
def case_lifting(request: HttpRequest, number: str) -> HttpResponse:
    """The form with figures to start from, and with what it says once they were given."""
    case, at = case_called(number), timezone.now()
    about = case_facts(case, at)
    start = starting_figures(about.gross_kg, (about.length_mm, about.width_mm))
    asked = "load" in request.GET
    form = LiftForm(request.GET if asked else None, initial=start)
    said = None
    if asked and form.is_valid():
        masses, unknown = _masses(form.cleaned_data["others"].split(), at)
        if unknown:
            form.add_error("others", unknown)
        else:
            said = closer_look(form.cleaned_data, masses)
    context = {
        "case": case, "about": about, "form": form, "said": said, "caution": CAUTION, "back": address(case),
        "filter_source": SOURCE,
    }  # fmt: skip
    return render(request, "shipping/case_lifting.html", context, status=422 if form.errors else 200)


def _masses(numbers: list[str], at: datetime) -> tuple[list[Decimal], str]:
    """What these cases weigh in kg; or, in words, which of them nobody knows."""
    masses = []
    for number in numbers:
        other = item_named(number)
        if other is None or not hasattr(other.type, "container"):
            return [], f"No case is called {number}. Write case numbers with spaces between them."
        gross = case_facts(other, at).gross_kg
        if gross is None:
            return [], f"The mass of {other} is not known. Weigh it, or leave it out."
        masses.append(gross)
    return masses, ""


urlpatterns = [path("case/<str:number>/lifting/", case_lifting, name="case-lifting")]
