"""Addresses of what we own and where it is."""

from django.urls import URLPattern

from inventory.views import (
    acts,
    answers,
    bench,
    drive_acts,
    drives,
    editing,
    held,
    importing,
    ledger,
    own_drive,
    places,
    signing,
    things,
    where,
    work_list,
)

urlpatterns: list[URLPattern] = [
    *answers.urlpatterns,
    *editing.urlpatterns,
    *acts.urlpatterns,
    *bench.urlpatterns,
    *drives.urlpatterns,
    *drive_acts.urlpatterns,
    *held.urlpatterns,
    *importing.urlpatterns,
    *ledger.urlpatterns,
    *own_drive.urlpatterns,
    *places.urlpatterns,
    *signing.urlpatterns,
    *things.urlpatterns,
    *where.urlpatterns,
    *work_list.urlpatterns,
]
