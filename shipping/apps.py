"""App configuration."""

from django.apps import AppConfig


class ShippingConfig(AppConfig):
    name = "shipping"

    def ready(self) -> None:
        """Tell inventory, which knows no legs, where cases go and what "leg:12" means in a scan."""
        from inventory import codebook, joblines, papers, unchanged
        from inventory.answers import bench_rules, registry, search
        from inventory.views import where
        from shipping import finding, judging, limits, loading, preparing, reconcile
        from shipping.documents import forms
        from shipping.models import Leg, Show

        search.sources.append(finding.shows)
        search.nearness.append(finding.on_now_or_next)
        papers.judges.append(forms.stale)
        bench_rules.readers.append(limits.of_the_bench)
        where.ADDRESSES["show"] = finding.show_address
        joblines.planners.append(loading.goes_to)
        codebook.place_finders.append(loading.find_place)
        unchanged.DATED += [(Show, column) for column in ("leaves_at", "starts_at", "ends_at", "back_at")]
        unchanged.DATED += [(Leg, "departs_at"), (Leg, "arrives_at")]
        registry.add("findings", find=judging.subject_named, ask=judging.findings, one="case or show")
        registry.add("readiness", find=preparing.system_named, ask=preparing.readiness_for_next, one="system")
        registry.add(
            "reconcile", find=reconcile.show_named, ask=reconcile.reconcile, one="show",
            references=lambda show: {show.code},
        )  # fmt: skip
