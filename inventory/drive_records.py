"""The decisions about a set's drives as its page lists them, and what an act on the set may name."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from uuid import UUID

from django.db.models import Q, QuerySet

from inventory.answers.holders import Holder, holders
from inventory.client_drives import ClientPage
from inventory.drive_pages import DriveCard, SetPage
from inventory.forms.drives import Scope
from inventory.hands import RECEIPT
from inventory.models import (
    Copy,
    Entry,
    HashListCheck,
    Hold,
    Mandate,
    MandatePerson,
    Person,
    Release,
    ReleaseRequest,
    Verb,
    Wipe,
)
from inventory.own_drive import OwnPage

SHOWN = 50


@dataclass(frozen=True, slots=True)
class Records:
    """Newest first; at most SHOWN of each."""

    mandates: tuple[Mandate, ...]
    releases: tuple[Release, ...]
    holds: tuple[Hold, ...]
    copies: tuple[Copy, ...]
    wipes: tuple[Wipe, ...]
    signatures: dict[UUID, Entry]
    holders: tuple[Holder, ...]
    hash_lists: tuple[HashListCheck, ...] = ()
    requests: tuple[ReleaseRequest, ...] = ()


def records_of(page: SetPage, at: datetime) -> Records:
    drives, shows = [card.drive.id for card in page.cards], page.references
    mandates = Mandate.objects.filter(reference__in=shows).select_related("content_owner")
    about = _about(page)
    releases, copies = _releases(about), _copies(about)
    wipes = Wipe.objects.filter(drive__in=drives).select_related("drive__type")
    return Records(
        tuple(mandates.prefetch_related("persons__person").order_by("-pk")[:SHOWN]),
        tuple(
            releases.select_related("person", "withdrawal", "drive_set")
            .prefetch_related("serials__drive").order_by("-pk")[:SHOWN]
        ),
        tuple(_holds(about).select_related("lift", "drive__type", "drive_set").order_by("-pk")[:SHOWN]),
        tuple(
            copies.select_related("place", "on_drive__type").prefetch_related("serials__drive").order_by("-pk")[:SHOWN]
        ),
        tuple(wipes.order_by("-pk")[:SHOWN]),
        signatures_of(line.act for line in page.hands), holders(at, drives),
        tuple(HashListCheck.objects.filter(copy__serials__drive__in=drives).distinct().order_by("-pk")[:SHOWN]),
        tuple(_requests(about).select_related("person").prefetch_related("answers").order_by("-pk")[:SHOWN]),
    )  # fmt: skip


def signatures_of(acts: Iterable[UUID]) -> dict[UUID, Entry]:
    """What was signed under these acts."""
    rows = Entry.objects.filter(act__in=set(acts), verb=Verb.SIGNED, rule=RECEIPT)
    return {row.act: row for row in rows}


def owners_of(drives: Collection[int]) -> list[MandatePerson]:
    """Who may speak for the content that was released on these drives."""
    shows = Release.objects.filter(serials__drive__in=list(drives)).values("reference")
    newest = {
        (m.reference, m.content_owner_id): m.pk for m in Mandate.objects.filter(reference__in=shows).order_by("pk")
    }
    return list(MandatePerson.objects.filter(mandate__in=newest.values()).select_related("person", "mandate"))


@dataclass(frozen=True, slots=True)
class About:
    """Which drives, which sets as wholes and which shows a page is about."""

    drives: tuple[int, ...]
    sets: tuple[int, ...]
    references: tuple[str, ...]


def _about(page: SetPage) -> About:
    return About(tuple(card.drive.id for card in page.cards), (page.drive_set.pk,), page.references)


def _holds(about: About) -> QuerySet[Hold]:
    shows = [one for one in about.references if one]
    return Hold.objects.filter(Q(drive__in=about.drives) | Q(drive_set__in=about.sets) | Q(reference__in=shows))


def _releases(about: About) -> QuerySet[Release]:
    named = Q(serials__drive__in=about.drives) | Q(drive_set__in=about.sets)
    return Release.objects.filter(named).distinct()


def _requests(about: About) -> QuerySet[ReleaseRequest]:
    return ReleaseRequest.objects.filter(serials__drive__in=about.drives).distinct()


def _copies(about: About) -> QuerySet[Copy]:
    return Copy.objects.filter(replaced_by=None, serials__drive__in=about.drives).distinct()


def scope_of(page: SetPage) -> Scope:
    """What the acts on a set may name."""
    scope = _scope(_about(page), page.cards, page.unnamed)
    return replace(scope, bays=tuple(page.drive_set.bay_labels), set_name=page.drive_set.name)


def own_scope_of(page: OwnPage) -> Scope:
    """What the acts on one drive may name, whether or not it is in a set."""
    about = About((page.card.drive.id,), tuple(one.pk for one in page.sets), page.references)
    return _scope(about, (page.card,), page.unnamed)


def _scope(about: About, cards: Sequence[DriveCard], unnamed: Sequence[tuple[str, str]]) -> Scope:
    doubts = {
        f"{card.drive.id}:{doubt.digest}": f"{card.label}: {doubt.sentence}"
        for card in cards
        for doubt in card.answer.doubts
    }
    return Scope(
        drives=tuple((card.drive.id, card.label) for card in cards), references=about.references,
        doubts=tuple(doubts.items()), unnamed=unnamed, under_way=under_way(about.drives),
        holds=tuple(_holds(about).filter(lift=None).values_list("pk", flat=True)),
        releases=tuple(_releases(about).filter(withdrawal=None).values_list("pk", flat=True)),
        copies=tuple(_copies(about).values_list("pk", flat=True)),
        requests=tuple(_requests(about).exclude(answers__word="yes").values_list("pk", flat=True)),
    )  # fmt: skip


def client_scope_of(page: ClientPage, person: Person) -> Scope:
    """What a client may name: drives that still hold its content, its shows, and the releases of her own word."""
    drives = [card.drive.id for card in page.cards]
    own = Release.objects.filter(person=person, reference__in=page.references, serials__drive__in=drives)
    return Scope(
        drives=tuple((card.drive.id, card.drive.serial) for card in page.holding), references=page.references,
        set_name=page.drive_set.name,
        releases=tuple(own.filter(withdrawal=None).distinct().values_list("pk", flat=True)),
    )  # fmt: skip


def under_way(drives: Collection[int]) -> Sequence[int]:
    """Ids of the begun steps of wipes that nobody has ended."""
    steps = list(Wipe.objects.filter(drive__in=drives).values_list("pk", "job", "drive", "step"))
    ended = {(job, drive) for _, job, drive, step in steps if step != Wipe.Step.BEGUN}
    return tuple(pk for pk, job, drive, step in steps if step == Wipe.Step.BEGUN and (job, drive) not in ended)
