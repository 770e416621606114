"""Addresses of what should go where."""

from django.urls import URLPattern

from shipping.views import case_acts, cases

urlpatterns: list[URLPattern] = [
    *cases.urlpatterns,
    *case_acts.urlpatterns,
]
