"""Addresses of what should go where."""

from django.urls import URLPattern

from shipping.views import border, case_acts, cases, codepage, docks, loads, papers, passes, rules

urlpatterns: list[URLPattern] = [
    *border.urlpatterns,
    *cases.urlpatterns,
    *case_acts.urlpatterns,
    *rules.urlpatterns,
    *papers.urlpatterns,
    *codepage.urlpatterns,
    *loads.urlpatterns,
    *docks.urlpatterns,
    *passes.urlpatterns,
]
