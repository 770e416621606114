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


Arguments = dict[str, tuple[Any, ...]]


def _all(names: str, *args: Any) -> Arguments:
    """The same arguments for every one of these names."""
    return dict.fromkeys(names.split(), args)


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
        self.known: Arguments = {
            **self._of_cases(), **self._of_shows(), **self._of_papers(), **self._of_systems(), **self._of_things(),
            **self._of_sheets(), **self._of_drives(),
        }  # fmt: skip

    def __call__(self, name: str) -> str:
        return reverse(name, args=self.known.get(name, ()))

    def _of_cases(self) -> Arguments:
        names = "case case-lifting case-seal case-break-seal case-pack case-take-out case-weigh case-confirm case-waive"
        return {**_all(f"{names} case-csv case-xlsx", "HER-03"), "rule-limit": self._limit()}

    def _of_shows(self) -> Arguments:
        show, leg, world = self.show.code, self.leg, self.world
        trip = ConsignmentCase.objects.filter(consignment__show=self.show).first()
        held = SetAside.objects.create(why="held", sentence="after the pass", body="{}", received_at=world.zero)
        day_pass = world.passes["tonight"]
        return {
            **_all("show-set packing packing-status packing-search packing-stop packing-accept", show),
            **_all(
                "show border-new pass-make show-book show-cancel show-edit consignment-add return return-close",
                show,
            ),
            **_all(
                "load load-scan load-undo load-depart load-arrive load-found load-broken load-leave load-seal", leg.pk
            ),
            **_all("show-csv show-xlsx", show),
            **_all("dock dock-now dock-settle freight leg leg-confirm leg-waive", leg.pk),
            **_all("floor floor-status floor-search floor-stop floor-accept", leg.pk),
            "freight-figure": (leg.pk, "insured"),
            "vehicle": ("Teasel",),
            **_all("return-thing return-here return-mark", show, self.item.pk),
            **_all("return-case return-seal", show, world.things["HER-03"].pk),
            **_all("consignment-split leg-add", show, leg.consignment_id),
            **_all("pass pass-end", day_pass.pk),
            "join": (day_pass.code,),
            "dock-aside": (leg.pk, held.pk),
            "held-answer": (held.pk,),
            "show-unbook": (show, self.show.bookings.first().pk),
            "consignment-case": (show, trip.pk),
            "leg-edit": (show, leg.pk),
            "deck-edit": (leg.vehicle_id,),
        }

    def _of_papers(self) -> Arguments:
        zero = self.world.zero
        paper = papers.issue(draft("case-list", "HER-03", "a4", zero), by="Ida Penrake", at=zero)
        label = papers.issue(draft("case-label", "HER-03", "", zero), by="Ida Penrake", at=zero)
        line = BorderLine.objects.filter(border_list__issued_at__isnull=False).first()
        return {
            **_all("paper paper-code", paper.pk),
            "paper-issue": ("case-list", "HER-03"),
            "paper-sheet": (str(label.pk),),
            **_all("border-list border-issue border-decide border-csv border-xlsx", line.border_list_id),
            "border-line": (line.border_list_id, line.line),
        }

    def _of_systems(self) -> Arguments:
        system, part = self.world.systems["Heron"], SystemPart.objects.first()
        check = system.setup_checks.first()
        return {
            **_all("system system-sign system-part-add system-check-add paper-labels", system.slug),
            **_all("system-check system-check-remove", system.slug, check.pk if check else 1),
            "system-part-edit": (part.system.slug, part.pk),
        }

    def _of_things(self) -> Arguments:
        world, ida = self.world, self.world.people["Ida Penrake"]
        blank = Label.objects.create(code="7ACEFHJ", kind=LabelKind.BLANK, issued_at=world.zero)
        photo = photos.keep(picture(), by="Ida Penrake", at=world.zero)
        code = world.things["HER-05"].labels.first().code
        return {
            **_all("code-page code-seen code-found code-received code-count", code),
            "code-adopt": (blank.code,),
            "answer": ("whereabouts", self.code),
            **_all("item item-edit", self.code),
            "item-act": (self.code, "put"),
            "item-type": (self.item.type_id,),
            "take-back": (Entry.objects.filter(verb="placed").first().act,),
            **_all("place place-edit", world.places["shelf A1"].pk),
            "person-edit": (ida.pk,),
            "organisation-edit": (ida.organisation_id,),
            "photo": (photo.hash,),
            "work-list-settle": ("mass", self.item.type_id),
        }

    def _of_sheets(self) -> Arguments:
        waiting, committed = (sheet(self.world.zero, committed=done) for done in (False, True))
        return {
            **_all("import-sheet import-answer import-forget import-columns import-leave-out", waiting.pk),
            **_all("import-commit import-stop import-abandon", waiting.pk),
            **_all("import-csv import-xlsx", committed.pk),
        }

    def _of_drives(self) -> Arguments:
        job = Wipe.objects.order_by("pk").first().job
        return {
            **_all("bench-job bench-stop", job),
            "bench-end": (job, "verify"),
            "drive-set": ("heron-2",),
            "drive-act": ("heron-2", "blank"),
            "own-drive-act": (self.code, "blank"),
        }

    def _limit(self) -> tuple[str, str]:
        from shipping.packing.rules import RULES

        return next((rule.id, name) for rule in RULES.values() for name in rule.limits)
