"""The queries behind the book of some drives, each put together once."""

from __future__ import annotations

from inventory.answers.refs import NAMED
from inventory.models import (
    Acceptance,
    Copy,
    CopySerial,
    DriveSet,
    Entry,
    Hold,
    Item,
    Kind,
    Label,
    Mandate,
    MandatePerson,
    Place,
    Release,
    ReleaseSerial,
    Verb,
    Wipe,
)
from inventory.prepared import Asked, Prepared

FIELDS = (
    "id", "act", "verb", "happened_at", "received_at", "by", "role", "grade", "stated", "label__item", "place", "bay",
    "drive_set", "person", "person__name", "seal", "serial", "note", "value", "rule", "condition", "field", "before",
    "after", "reference", "due_at", "purpose", "device",
)  # fmt: skip
ON_SETS = (Verb.RECORDING, Verb.STOPPED, Verb.BROKEN_UP)

# Asked in rounds, and for every set and drive that a page tells of: put together once.
OF_SETS = Prepared(
    lambda sets: Entry.objects.filter(drive_set__in=sets, verb=Verb.JOINED).order_by()
    .values_list("label__item").distinct(),
    sets=Asked.IDS,
)  # fmt: skip
IN_FRAMES = Prepared(
    lambda frames: Entry.objects.filter(place__item__in=frames, label__item__type__kind=Kind.DRIVE).order_by()
    .values_list("label__item").distinct(),
    frames=Asked.IDS,
)  # fmt: skip
JOINED = Prepared(
    lambda drives: Entry.objects.filter(label__item__in=drives, verb=Verb.JOINED).order_by()
    .values_list("drive_set").distinct(),
    drives=Asked.TOLD_THINGS,
)  # fmt: skip
SAT_IN = Prepared(
    lambda drives: Entry.objects.filter(label__item__in=drives, place__item__type__kind=Kind.FRAME).order_by()
    .values_list("place__item").distinct(),
    drives=Asked.TOLD_THINGS,
)  # fmt: skip
HOST_FRAMES = Prepared(
    lambda sets: Item.objects.filter(
        type__kind=Kind.FRAME, home_system__in=DriveSet.objects.filter(pk__in=sets).values("host")
    ).order_by().values_list("pk"),
    sets=Asked.IDS,
)  # fmt: skip
LABELS = Prepared(lambda items: Label.objects.filter(item__in=items).order_by().values_list("pk"), items=Asked.IDS)
CONTAINERS = Prepared(
    lambda places: Place.objects.filter(pk__in=places, item__isnull=False).order_by().values_list("item"),
    places=Asked.IDS,
)
OF_LABELS = Prepared(
    lambda labels: Entry.objects.filter(label__in=labels).order_by().values_list(*FIELDS), labels=Asked.TOLD_CODES
)
OF_HOLDERS = Prepared(
    lambda labels: Entry.objects.filter(label__in=labels).exclude(verb__in=ON_SETS).order_by().values_list(*FIELDS),
    labels=Asked.TOLD_CODES,
)
READ = Entry.objects.filter(verb=Verb.SERIAL_READ).exclude(serial="").order_by()
READ_HERE = Prepared(
    lambda drives: Item.objects.filter(
        type__kind=Kind.DRIVE, serial__in=READ.filter(label__item__in=drives).values("serial")
    ).order_by().values_list("pk"),
    drives=Asked.TOLD_THINGS,
)  # fmt: skip
READ_IN = Prepared(
    lambda drives: READ.filter(
        serial__in=Item.objects.filter(pk__in=drives).exclude(serial="").order_by().values("serial")
    ).values_list("label__item"),
    drives=Asked.IDS,
)  # fmt: skip
PLACES = Prepared(
    lambda places: Place.objects.filter(pk__in=places).order_by().values_list(
        "pk", "name", "kind", "item", "item__type__container", "person", "person__name", "person__role",
        "person__organisation", "person__organisation__is_ours", "parent",
    ),
    places=Asked.IDS,
)  # fmt: skip
THINGS = Prepared(
    lambda items: Item.objects.filter(pk__in=items).order_by("number", "pk").values_list(
        *NAMED, "type__kind", "serial_key", "serial_unreadable_since", "owner__name", "owner__is_ours", "home_system",
        "type__solid_state",
    ),
    items=Asked.IDS,
)  # fmt: skip
RECORDED = Prepared(
    lambda references: Entry.objects.filter(reference__in=references, verb=Verb.RECORDING, drive_set__isnull=False)
    .order_by().values_list("drive_set").distinct(),
    references=Asked.TEXTS,
)  # fmt: skip
CARRIERS = Prepared(
    lambda drives: Copy.objects.filter(serials__drive__in=drives, on_drive__isnull=False).order_by()
    .values_list("on_drive").distinct(),
    drives=Asked.IDS,
)  # fmt: skip
ON_SETS_ELSEWHERE = Prepared(
    lambda labels: Entry.objects.filter(verb__in=ON_SETS).exclude(label__in=labels).order_by().values_list(*FIELDS),
    labels=Asked.IDS,
)
UNDOINGS = Prepared(
    lambda: Entry.objects.filter(corrects__isnull=False).order_by("happened_at", "id")
    .values_list("id", "by", "role", "day_pass", "device", "corrects")
)  # fmt: skip
SETS = Prepared(lambda: DriveSet.objects.values_list("pk", "name", "host"))
HOSTS = Prepared(
    lambda: Item.objects.filter(type__kind=Kind.FRAME, home_system__drive_sets__isnull=False).order_by()
    .values_list("pk").distinct()
)  # fmt: skip
PLACES_OF_COPIES = Prepared(
    lambda: Copy.objects.filter(place__isnull=False).order_by().values_list("place").distinct()
)  # fmt: skip
MANDATES = Prepared(
    lambda: Mandate.objects.values_list(
        "pk", "reference", "content_owner__name", "copies", "media", "elsewhere", "owners_document", "in_force_from",
        "entered_at",
    )
)  # fmt: skip
MAY_RELEASE = Prepared(
    lambda: MandatePerson.objects.order_by("pk").values_list("mandate", "person", "person__name")
)  # fmt: skip
RELEASES = Prepared(
    lambda: Release.objects.order_by("pk").values_list(
        "pk", "reference", "person", "person__name", "drive_set", "no_copies_wanted", "evidence", "date", "entered_at",
        "withdrawal__entered_at", "withdrawal__why",
    )
)  # fmt: skip
RELEASED = Prepared(lambda: ReleaseSerial.objects.order_by().values_list("release", "drive"))
HOLDS = Prepared(
    lambda: Hold.objects.order_by("pk").values_list(
        "pk", "drive", "drive_set", "reference", "why", "entered_by", "entered_at", "lift__entered_at"
    )
)  # fmt: skip
COPIES = Prepared(
    lambda: Copy.objects.order_by("pk").values_list(
        "pk", "replaces", "reference", "made_at", "entered_at", "medium", "place", "place_words", "on_drive",
        "verified_at", "reported_bad",
    )
)  # fmt: skip
COPIED = Prepared(lambda: CopySerial.objects.order_by().values_list("copy", "drive"))
WIPES = Prepared(
    lambda drives: Wipe.objects.filter(drive__in=drives).order_by("pk").values_list(
        "pk", "job", "drive", "step", "method", "entered_by", "entered_at", "answer_at_step"
    ),
    drives=Asked.IDS,
)  # fmt: skip
ACCEPTANCES = Prepared(
    lambda drives: Acceptance.objects.filter(drive__in=drives).order_by("pk")
    .values_list("drive", "digest", "entered_by", "why", "entered_at"),
    drives=Asked.IDS,
)  # fmt: skip
