"""Addresses of what we own and where it is."""

from django.urls import URLPattern

from inventory import api
from inventory.views import answers, importing, signing, work_list

urlpatterns: list[URLPattern] = [
    *answers.urlpatterns,
    *api.urlpatterns,
    *importing.urlpatterns,
    *signing.urlpatterns,
    *work_list.urlpatterns,
]
