"""App configuration."""

from django.apps import AppConfig
from django.db.models.signals import post_migrate


class InventoryConfig(AppConfig):
    name = "inventory"

    def ready(self) -> None:
        from inventory import triggers
        from inventory.answers import registry

        registry.add_own()
        post_migrate.connect(triggers.after_migrate, sender=self, dispatch_uid="append-only triggers")
