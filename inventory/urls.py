"""Addresses of what we own and where it is."""

from inventory.views import signing

urlpatterns = [
    *signing.urlpatterns,
]
