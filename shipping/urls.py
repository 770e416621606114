"""Addresses of what should go where."""

from django.urls import URLPattern

from shipping.views import (
    border,
    burning,
    case_acts,
    cases,
    codepage,
    consignments,
    day,
    docks,
    lifting,
    loads,
    papers,
    passes,
    promise,
    returns,
    rules,
    scan,
    sheets,
    shows,
    systems,
    today,
)

urlpatterns: list[URLPattern] = [
    *border.urlpatterns,
    *burning.urlpatterns,
    *cases.urlpatterns,
    *case_acts.urlpatterns,
    *lifting.urlpatterns,
    *rules.urlpatterns,
    *papers.urlpatterns,
    *sheets.urlpatterns,
    *codepage.urlpatterns,
    *loads.urlpatterns,
    *day.urlpatterns,
    *docks.urlpatterns,
    *passes.urlpatterns,
    *scan.urlpatterns,
    *systems.urlpatterns,
    *shows.urlpatterns,
    *consignments.urlpatterns,
    *returns.urlpatterns,
    *promise.urlpatterns,
    *today.urlpatterns,
]
