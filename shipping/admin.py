"""The administrator's desk for shows and transport: to be read; changed on the book's own pages."""

from __future__ import annotations

from django.apps import apps

from inventory.admin import register_read_only

register_read_only(apps.get_app_config("shipping").get_models())
