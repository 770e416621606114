"""Addresses. Each app brings its own."""

from django.contrib import admin
from django.urls import include, path, re_path

from config.icon import icon
from inventory.api import nothing_here

urlpatterns = [
    path("", include("inventory.api")),  # first: phones ask most often, and each address before costs them some µs
    path("", include("shipping.urls")),
    path("", include("inventory.urls")),
    path("", include("config.lan.pages")),
    re_path(r"^api/(?P<rest>.*)$", nothing_here, name="api-nothing"),
    path("admin/", admin.site.urls),
    path("favicon.ico", icon, name="icon"),
]
