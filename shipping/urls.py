"""Addresses of what should go where."""

from django.urls import URLPattern

from shipping.views import border, case_acts, cases, papers, rules

urlpatterns: list[URLPattern] = [
    *border.urlpatterns,
    *cases.urlpatterns,
    *case_acts.urlpatterns,
    *rules.urlpatterns,
    *papers.urlpatterns,
]
