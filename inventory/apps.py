"""App configuration."""

from django.apps import AppConfig
from django.db.models.signals import post_migrate


class InventoryConfig(AppConfig):
    name = "inventory"

    def ready(self) -> None:
        from inventory import findable, triggers
        from inventory.answers import registry

        registry.add_own()
        post_migrate.connect(triggers.after_migrate, sender=self, dispatch_uid="append-only triggers")
        post_migrate.connect(findable.after_migrate, sender=self, dispatch_uid="index of what can be looked up")
