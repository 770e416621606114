"""The entries that count: not taken back, and not corrections themselves (ledger rules, P4)."""

from __future__ import annotations

from datetime import datetime

from django.db.models import Exists, OuterRef, Q, QuerySet

from inventory.models import Entry, Role, Verb


def live_entries(at: datetime) -> QuerySet[Entry]:
    """Entries that stand at `at`, corrections of any time counted: a correction voids an act for ever."""
    by_kit_manager = Q(role=Role.KIT_MANAGER, day_pass=None)
    by_its_maker = Q(device=OuterRef("device"), device__isnull=False)
    corrections = Entry.objects.filter(by_kit_manager | by_its_maker, corrects=OuterRef("act")).order_by()
    taken_back = Exists(corrections) & ~Q(verb=Verb.AMENDED)
    return Entry.objects.filter(happened_at__lte=at).exclude(verb=Verb.CORRECTED).exclude(taken_back)
