"""Where every named page is in the demo world: the rows that its address needs are found, or made."""

from __future__ import annotations

import hashlib
from datetime import datetime
from pathlib import Path
from typing import Any

from django.urls import URLPattern, URLResolver, get_resolver, reverse

from inventory import papers, photos
from inventory.models import Entry, ImportedSheet, Label, LabelKind, SetAside, SystemPart, Wipe
from shipping.documents.forms import draft
from shipping.models import BorderLine, ConsignmentCase
from tests.factories import IDA
from tests.inventory.test_photos import picture

SHEET = Path(__file__).resolve().parent.parent / "fixtures" / "samples" / "gear.csv"


def named_patterns(patterns: list[Any] | None = None) -> dict[str, URLPattern]:
    """Every named page of ours, by name; the framework's own desk (/admin/) is not ours."""
    found: dict[str, URLPattern] = {}
    for one in get_resolver().url_patterns if patterns is None else patterns:
        if isinstance(one, URLResolver) and one.namespace != "admin":
            found |= named_patterns(one.url_patterns)
        elif isinstance(one, URLPattern):
            found[one.name] = one
    return found


def sheet(at: datetime, *, committed: bool) -> ImportedSheet:
    body = SHEET.read_bytes()
    return ImportedSheet.objects.create(
        name="gear.csv",
        body=body,
        digest=hashlib.sha256(body).hexdigest(),
        uploaded_at=at,
        uploaded_by=IDA.name,
        committed_at=at if committed else None,
    )


class Addresses:
    """address(name) -> the address of that page with what the demo world holds."""

    def __init__(self, world: Any) -> None:
        self.world = world
        self.item = world.drive("HERON-2", "B")
        self.code = self.item.labels.first().code
        self.show = world.shows["FMC"]
        self.leg = next(leg for leg in world.legs.values() if leg.consignment.show_id == self.show.pk)
        case = world.things["HER-07"]
        self.sent = {"dock-settle": {"item": case.pk, "place": world.inside("Teasel").pk}}
        self.known: dict[str, tuple[Any, ...]] = self._arguments()

    def __call__(self, name: str) -> str:
        return reverse(name, args=self.known.get(name, ()))

    def _arguments(self) -> dict[str, tuple[Any, ...]]:
        world, case, show, leg = self.world, ("HER-03",), (self.show.code,), (self.leg.pk,)
        part, trip = SystemPart.objects.first(), ConsignmentCase.objects.filter(consignment__show=self.show).first()
        line = BorderLine.objects.filter(border_list__issued_at__isnull=False).first()
        system, check = world.systems["Heron"], world.systems["Heron"].setup_checks.first()
        waiting, committed = (sheet(world.zero, committed=done) for done in (False, True))
        paper = papers.issue(draft("case-list", "HER-03", "a4", world.zero), by="Ida Penrake", at=world.zero)
        label = papers.issue(draft("case-label", "HER-03", "", world.zero), by="Ida Penrake", at=world.zero)
        photo = photos.keep(picture(), by="Ida Penrake", at=world.zero)
        act = Entry.objects.filter(verb="placed").first().act
        held = SetAside.objects.create(why="held", sentence="after the pass", body="{}", received_at=world.zero)
        blank = Label.objects.create(code="7ACEFHJ", kind=LabelKind.BLANK, issued_at=world.zero)
        shelf, ida = world.places["shelf A1"], world.people["Ida Penrake"]
        booking, day_pass = self.show.bookings.first(), world.passes["tonight"]
        of_case = "case case-seal case-break-seal case-pack case-take-out case-weigh case-confirm case-waive"
        of_show = "show border-new pass-make show-book show-cancel show-edit consignment-add return return-close"
        of_leg = (
            "load load-scan load-undo load-depart load-arrive load-found load-broken load-leave load-seal dock"
            " dock-settle"
        )
        of_sheet = (
            "import-sheet import-answer import-forget import-columns import-leave-out import-commit import-abandon"
        )
        of_thing = "return-thing return-here return-mark"
        of_code = "code-page code-seen code-found code-received code-count"
        return {
            **dict.fromkeys(of_case.split(), case),
            **dict.fromkeys(of_show.split(), show),
            **dict.fromkeys(of_leg.split(), leg),
            **dict.fromkeys(of_sheet.split(), (waiting.pk,)),
            **dict.fromkeys(of_thing.split(), (*show, self.item.pk)),
            **dict.fromkeys(of_code.split(), (world.things["HER-05"].labels.first().code,)),
            **dict.fromkeys(("return-case", "return-seal"), (*show, world.things["HER-03"].pk)),
            **dict.fromkeys(("import-csv", "import-xlsx"), (committed.pk,)),
            **dict.fromkeys(("border-list", "border-issue", "border-decide"), (line.border_list_id,)),
            "border-line": (line.border_list_id, line.line),
            "code-adopt": (blank.code,),
            "rule-limit": self._limit(),
            "paper": (paper.pk,),
            "paper-code": (paper.pk,),
            "paper-issue": ("case-list", "HER-03"),
            "paper-labels": (system.slug,),
            "paper-sheet": (str(label.pk),),
            "dock-aside": (*leg, held.pk),
            "held-answer": (held.pk,),
            "pass": (day_pass.pk,),
            "pass-end": (day_pass.pk,),
            "join": (day_pass.code,),
            **dict.fromkeys(["system", "system-sign", "system-part-add", "system-check-add"], (system.slug,)),
            "system-part-edit": (part.system.slug, part.pk),
            **dict.fromkeys(("system-check", "system-check-remove"), (system.slug, check.pk if check else 1)),
            "show-unbook": (*show, booking.pk),
            "consignment-split": (*show, self.leg.consignment_id),
            "consignment-case": (*show, trip.pk),
            "leg-add": (*show, self.leg.consignment_id),
            "leg-edit": (*show, self.leg.pk),
            "answer": ("whereabouts", self.code),
            "item": (self.code,),
            "item-edit": (self.code,),
            "item-act": (self.code, "put"),
            "item-type": (self.item.type_id,),
            "take-back": (act,),
            "place": (shelf.pk,),
            "place-edit": (shelf.pk,),
            "person-edit": (ida.pk,),
            "organisation-edit": (ida.organisation_id,),
            "photo": (photo.hash,),
            "work-list-settle": ("mass", self.item.type_id),
            **dict.fromkeys(("bench-job", "bench-stop"), (Wipe.objects.order_by("pk").first().job,)),
            "bench-end": (Wipe.objects.order_by("pk").first().job, "verify"),
            "drive-set": ("heron-2",),
            "drive-act": ("heron-2", "blank"),
        }

    def _limit(self) -> tuple[str, str]:
        from shipping.packing.rules import RULES

        return next((rule.id, name) for rule in RULES.values() for name in rule.limits)
