"""What nobody has said yet: one list to work down, most useful first. Nothing here stands in anybody's way."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet

from inventory.models import Entry, Holding, Item, ItemType, Kind, System, Verb, WorkListNote

# Kinds that draw mains power and so carry an inspection label (common practice).
POWERED = (
    Kind.FRAME, Kind.PANEL, Kind.POWER_SUPPLY, Kind.UPS, Kind.DISTRIBUTION, Kind.CORD, Kind.MONITOR, Kind.CONTROLLER,
    Kind.COMMS, Kind.NETWORK,
)  # fmt: skip
# Kinds that are screwed into racks, and may need rails (common practice).
RACKED = (Kind.FRAME, Kind.UPS, Kind.NETWORK, Kind.CONTROLLER)
_SAYS_CONTENT = (Verb.DECLARED_BLANK, Verb.CONTENT_GIVEN, Verb.FOREIGN)


@dataclass(frozen=True, slots=True)
class Gap:
    """One kind of unknown. `asks`: the way its form reads the answer, or '' where another page is the way out."""

    key: str
    title: str
    why: str
    rows: Callable[[], QuerySet[Any]]
    asks: str = ""
    field: str = ""
    label: str = ""
    of_type: bool = False


def _types(**unknown: object) -> QuerySet[ItemType]:
    """Types of which we have at least one thing, and of which this is unknown."""
    used = Item.objects.filter(type=OuterRef("pk"), retired_at=None)
    return ItemType.objects.filter(Exists(used), **unknown).order_by("maker", "name")


def _items() -> QuerySet[Item]:
    return Item.objects.in_stock().with_words()


def _unsized() -> QuerySet[ItemType]:
    missing = Q(length_mm=None) | Q(width_mm=None) | Q(height_mm=None)
    return _types(is_lot=False).filter(missing).exclude(kind__in=(Kind.CORD, Kind.CABLE, Kind.CONSUMABLE, Kind.VEHICLE))


def _unsaid_drives() -> QuerySet[Item]:
    said = Entry.objects.filter(label__item=OuterRef("pk"), verb__in=_SAYS_CONTENT)
    recorded = Entry.objects.filter(verb=Verb.RECORDING, drive_set=OuterRef("home_set"))
    return _items().filter(type__kind=Kind.DRIVE).exclude(Exists(said)).exclude(Exists(recorded))


def _unplaced() -> QuerySet[Item]:
    return _items().exclude(Exists(Holding.objects.filter(item=OuterRef("pk"), place__isnull=False)))


def _homeless() -> QuerySet[Item]:
    return _items().filter(home_case=None).exclude(type__kind__in=(Kind.CASE, Kind.VEHICLE))


def _without_serial() -> QuerySet[Item]:
    return _items().filter(type__serials_required=True, serial="", serial_unreadable_since=None)


def _notes() -> QuerySet[WorkListNote]:
    notes = WorkListNote.objects.select_related("item__type", "item__home_case__type", "sheet").defer("sheet__body")
    return notes.prefetch_related("item__labels").order_by("id")


GAPS: tuple[Gap, ...] = (
    Gap("content", "What is on these drives", "Until somebody says, no drive here may be wiped.", _unsaid_drives),
    Gap("place", "Where these things are", "Nobody has placed them anywhere.", _unplaced),
    Gap(
        "home",
        "Which case they live in",
        "A thing without a home case is in no case list.",
        _homeless,
        "number",
        "home_case",
        "Home case",
    ),
    Gap(
        "mass",
        "What these weigh",
        "A case with an unknown mass in it has no lift class.",
        lambda: _types(mass_kg=None).exclude(kind=Kind.VEHICLE),
        "mass",
        "mass_kg",
        "Mass of one",
        True,
    ),
    Gap(
        "size",
        "How large these are",
        "Without a size nothing can plan where they go.",
        _unsized,
        "size",
        "size",
        "Length x width x height",
        True,
    ),
    Gap(
        "rails",
        "Do these need rails?",
        "A frame without its rails cannot be built in.",
        lambda: _types(needs_rails=None, kind__in=RACKED),
        "yes or no",
        "needs_rails",
        "Needs rails",
        True,
    ),
    Gap(
        "kind",
        "What kind of thing these are",
        "Rules go by kind.",
        lambda: _types(kind=Kind.OTHER),
        "kind",
        "kind",
        "Kind",
        True,
    ),
    Gap(
        "rating",
        "What these cases may weigh full",
        "Rule: gross within the case's rating.",
        lambda: _types(kind=Kind.CASE, container__max_gross_kg=None),
        "mass",
        "max_gross_kg",
        "Rating",
        True,
    ),
    Gap(
        "sine",
        "Is the output of these a true sine wave?",
        "Some systems run on nothing else.",
        lambda: _types(kind=Kind.UPS, true_sine=None),
        "yes or no",
        "true_sine",
        "True sine",
        True,
    ),
    Gap(
        "inspection",
        "When these must be inspected",
        "A venue may refuse what has no date.",
        lambda: _items().filter(inspection_due=None, type__kind__in=POWERED),
        "date",
        "inspection_due",
        "Inspection due",
    ),
    Gap("serial", "Serials that nobody has read", "Twins are told apart by serial only.", _without_serial),
    Gap(
        "worn",
        "Serials that can no longer be read",
        "They cannot go on a border list.",
        lambda: _items().exclude(serial_unreadable_since=None),
    ),
    Gap(
        "parts",
        "What makes these systems whole",
        "Nothing says which parts they need, so they cannot be called ready.",
        lambda: System.objects.filter(parts=None),
    ),
    Gap(
        "value",
        "What these cost new",
        "The insurer and the border ask.",
        lambda: _types(replacement_value=None).exclude(kind=Kind.CONSUMABLE),
        "money",
        "replacement_value",
        "Value and currency",
        True,
    ),
    Gap(
        "notes",
        "Words of a sheet that could not be read",
        "They are kept until somebody has dealt with them.",
        _notes,
        "done",
    ),
)
BY_KEY = {gap.key: gap for gap in GAPS}
