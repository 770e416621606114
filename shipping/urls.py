"""Addresses of what should go where."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
