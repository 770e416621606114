"""Addresses of what we own and where it is."""

from django.urls import URLPattern

from inventory import api

urlpatterns: list[URLPattern] = [
    *api.urlpatterns,
]
