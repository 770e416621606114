"""App configuration."""

from django.apps import AppConfig
from django.db.models.signals import post_migrate


class InventoryConfig(AppConfig):
    name = "inventory"

    def ready(self) -> None:
        from inventory import findable, place_order, tallies, triggers, where_answers
        from inventory.answers import registry

        place_order.follow()
        registry.add_own()
        registry.add("whereabouts", find=where_answers.subject_named, ask=where_answers.ask,
                     one="code, number, serial or drive set", references=where_answers.references_of)  # fmt: skip
        post_migrate.connect(triggers.after_migrate, sender=self, dispatch_uid="append-only triggers")
        post_migrate.connect(findable.after_migrate, sender=self, dispatch_uid="index of what can be looked up")
        post_migrate.connect(tallies.after_migrate, sender=self, dispatch_uid="counts of what was written")
