"""Addresses of what we own and where it is."""

from django.urls import URLPattern

from inventory import api
from inventory.views import signing

urlpatterns: list[URLPattern] = [
    *api.urlpatterns,
    *signing.urlpatterns,
]
