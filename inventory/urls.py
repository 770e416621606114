"""Addresses of what we own and where it is."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
