"""App configuration."""

from django.apps import AppConfig


class ShippingConfig(AppConfig):
    name = "shipping"

    def ready(self) -> None:
        """Tell inventory, which knows no legs, where cases go and what "leg:12" means in a scan."""
        from inventory import codebook, joblines
        from shipping import loading

        joblines.planners.append(loading.goes_to)
        codebook.place_finders.append(loading.find_place)
