"""Addresses. Each app brings its own."""

from django.contrib import admin
from django.urls import include, path

urlpatterns = [
    path("", include("shipping.urls")),
    path("", include("inventory.urls")),
    path("", include("config.lan.pages")),
    path("admin/", admin.site.urls),
]
