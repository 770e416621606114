"""Addresses of what we own and where it is."""

from inventory.views import importing, signing, work_list

urlpatterns = [
    *importing.urlpatterns,
    *signing.urlpatterns,
    *work_list.urlpatterns,
]
