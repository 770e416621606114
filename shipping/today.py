"""What needs somebody now: one list of sentences with a verb, by role, ordered by the time to act."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

from django.db.models import QuerySet
from django.urls import NoReverseMatch, reverse
from django.utils import timezone

from inventory.accepting import count_waiting, waiting
from inventory.answers.drive_matters import matters
from inventory.answers.loading import live
from inventory.answers.oddities import oddities
from inventory.answers.readiness import readiness_of
from inventory.answers.unknown import GAPS
from inventory.models import Holding, Item, Role, System, Verb
from inventory.unchanged import kept, midnight_after
from shipping import boards, booking, showing
from shipping.availability import NO_BLANK_SET
from shipping.models import Show
from shipping.preparing import day_for
from shipping.reconcile import reconcile
from shipping.sealing import ever_sealed, sealed_with_blocks
from shipping.turns import When, hour_of, turns

SOON = timedelta(days=14)  # shows that leave within this are got ready now
DUE = timedelta(days=2)  # promises are chased this long before they are past
MOST = 8  # sentences of one kind; the rest is one sentence that counts them

KIT, LEAD, CREW, STAFF = Role.KIT_MANAGER, Role.ROAD_LEAD, Role.CREW, Role.STAFF


@dataclass(frozen=True, slots=True)
class Need:
    """One thing to do. `by` is when it must be done; past means it is late; without it, now."""

    sentence: str
    address: str
    by: datetime | None
    meaning: str = "doubtful"
    why: tuple[str, ...] = ()


Gather = Callable[[datetime], Iterable[Need]]


@dataclass(frozen=True, slots=True)
class Source:
    """Where needs come from, and whose they are. `by_the_hour`: what it says turns on more than days and the dates
    of shows and legs, so that it cannot be kept."""

    gather: Gather
    roles: tuple[str, ...]
    by_the_hour: bool = False

    def needs(self, at: datetime) -> tuple[Need, ...]:
        if self.by_the_hour:
            return tuple(self.gather(at))
        return kept(("needs", self.gather.__name__), at, lambda: tuple(self.gather(at)))


def needs(role: str | None, at: datetime) -> list[Need]:
    """Everything that waits for this role, the most urgent first."""
    found = [need for source in SOURCES if role in source.roles for need in source.needs(at)]
    dated = [need if need.by else replace(need, by=at) for need in found]
    return sorted(dated, key=lambda need: need.by)


def soon(at: datetime) -> datetime:
    """The end of the last day that counts as soon."""
    return midnight_after(at, timezone.get_default_timezone()) + SOON


def address(name: str, *args: object) -> str:
    """The address of a page, or nothing where it has none."""
    try:
        return reverse(name, args=args)
    except NoReverseMatch:
        return ""


def _coming(at: datetime) -> QuerySet[Show]:
    return Show.objects.filter(cancelled_at=None, ends_at__gte=at, leaves_at__lt=soon(at)).order_by("leaves_at")


def _systems_to_ready(at: datetime) -> Iterator[Need]:
    """Every system on a coming show that is not ready for it, with its first reasons."""
    gone = set(live(at).filter(verb=Verb.DEPARTED).exclude(reference="").values_list("reference", flat=True).distinct())
    asked: list[tuple[Show, System]] = []
    for show in _coming(at).prefetch_related("bookings__system"):
        if show.code not in gone:
            asked += [(show, one.system) for one in show.bookings.all() if one.system is not None]
    told = readiness_of([(system, day_for(show, at)) for show, system in asked], at)
    for show, system in asked:
        verdict = told[system.pk, day_for(show, at)]
        if verdict.reasons:
            count = len(verdict.reasons)
            yield Need(
                f"Get {system} ready for {show}: {count} {'reason' if count == 1 else 'reasons'}.",
                address("system", system.slug), show.leaves_at, "stop",
                tuple(reason.sentence for reason in verdict.reasons[:4]),
            )  # fmt: skip


def _clashes(at: datetime) -> Iterator[Need]:
    """Bookings that cannot all be kept."""
    for show in _coming(at):
        findings = [one for one in booking.booking_findings(show, at) if one.word != NO_BLANK_SET]
        if findings:
            yield Need(
                f"Settle what clashes on {show}.", address("show", show.code), show.leaves_at, "stop",
                tuple(one.sentence for one in findings[:4]),
            )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Turning:
    """A need that reads otherwise once the moment it is due has passed."""

    by: datetime
    before: Need
    after: Need


def _turned(gather: Callable[[datetime], Iterable[Turning]], ahead: timedelta, at: datetime) -> Iterator[Need]:
    """What is due by so long ahead. Gathered to the end of that day, the first due first, it is kept over the hours."""
    last = midnight_after(at, timezone.get_default_timezone()).astimezone(UTC) + ahead
    for one in kept(("turning", gather.__name__), at, lambda: tuple(gather(last))):
        if one.by <= at + ahead:
            yield one.after if one.by < at else one.before


def _promises(at: datetime) -> Iterator[Need]:
    """Things left or handed over whose day is here or past."""
    return _turned(_promised, DUE, at)


def _promised(last: datetime) -> Iterator[Turning]:
    rows = Holding.objects.filter(
        entry__verb__in=(Verb.LEFT, Verb.HANDED_OVER), entry__due_at__lte=last, item__retired_at=None
    ).select_related("item__type", "entry__person", "entry__place")
    rows = rows.prefetch_related("item__labels").order_by("entry__due_at", "pk")
    for row in rows[: MOST * 4]:
        yield Turning(row.entry.due_at, _ask(row, "due", "doubtful"), _ask(row, "promised for", "stop"))


def _ask(row: Holding, verb: str, meaning: str) -> Need:
    who = row.entry.person.name if row.entry.person else str(row.entry.place)
    phone = f", {row.entry.person.phone}" if row.entry.person and row.entry.person.phone else ""
    return Need(
        f"Ask {who}{phone} for {row.item}: {verb} {timezone.localtime(row.entry.due_at):%-d %B}.",
        address("item", row.item.code), row.entry.due_at, meaning,
        (f"{row.entry.get_verb_display()} at {row.entry.place}. {row.entry.note}".strip(),),
    )  # fmt: skip


def _off_hire(at: datetime) -> Iterator[Need]:
    """Hired things whose hire ends or has ended, dearest first where the day is the same."""
    return _turned(_hired, timedelta(days=3), at)


def _hired(last: datetime) -> Iterator[Turning]:
    rows = Item.objects.in_stock().filter(owner__is_ours=False, off_hire_at__lte=last)
    for item in rows.with_words().order_by("off_hire_at", "-cost_per_day")[: MOST * 2]:
        yield Turning(item.off_hire_at, _send_back(item, "ends", "doubtful"), _send_back(item, "ended", "stop"))


def _send_back(item: Item, verb: str, meaning: str) -> Need:
    cost = f", {item.cost_per_day} a day" if item.cost_per_day else ""
    return Need(
        f"Send {item} back to {item.owner}: the hire {verb} {timezone.localtime(item.off_hire_at):%-d %B}{cost}.",
        address("item", item.code), item.off_hire_at, meaning,
    )  # fmt: skip


def _sealed_over_a_block(at: datetime) -> Iterator[Need]:
    """A scan can seal what the rules would not: it stands here until it is right."""
    for case, judged in list(sealed_with_blocks(at).items())[:MOST]:
        yield Need(
            f"Open {case} or decide: it is sealed over {len(judged)} {'block' if len(judged) == 1 else 'blocks'}.",
            address("case", case.number or case.code), None, "stop",
            tuple(one.finding.sentence for one in judged[:3]),
        )  # fmt: skip


def _held_scans(at: datetime) -> Iterator[Need]:
    held = waiting(most=MOST)
    if held:
        count = count_waiting()
        yield Need(
            f"Accept or turn down {count} {'scan that is' if count == 1 else 'scans that are'} kept aside.",
            address("held") or address("ledger"), held[0].received_at, "doubtful",
            tuple(dict.fromkeys(one.sentence for one in held))[:3],
        )  # fmt: skip


def _contradictions(at: datetime) -> Iterator[Need]:
    """Two stories, opened seals, impossible places: what the ledger says against itself."""
    found = oddities(at=at)
    named = Item.objects.prefetch_related("labels").in_bulk([item for one in found[:MOST] for item in one.items[:1]])
    for reason in found[:MOST]:
        item = named.get(next(iter(reason.items), 0))
        yield Need(
            f"Settle: {reason.sentence}", address("item", item.code) if item else address("ledger"), None,
            "doubtful", (reason.way_out,) if reason.way_out else (),
        )  # fmt: skip
    if len(found) > MOST:
        yield Need(f"Settle {len(found) - MOST} more contradictions in the ledger.", address("ledger"), None)


def _work_list(at: datetime) -> Iterator[Need]:
    counts = [(gap.title, gap.rows().count()) for gap in GAPS]
    total = sum(count for _title, count in counts)
    if total:
        words = tuple(f"{title}: {count}" for title, count in counts if count)
        yield Need(f"Work down what is unknown: {total} gaps.", address("work-list"), soon(at), "quiet", words[:5])


def _returns(at: datetime) -> Iterator[Need]:
    """Shows that are over and whose return no person has closed."""
    over = Show.objects.filter(ends_at__lt=at).exclude(coming_back__closed_at__isnull=False).order_by("back_at")
    started = live(at).filter(verb=Verb.DEPARTED).exclude(reference="").values("reference")
    for show in over.filter(code__in=started)[:MOST]:
        told = reconcile(show, at)
        if told.lines:
            verb = "Check in" if told.owed else "Close the return of"
            meaning = "stop" if show.back_at < at else "doubtful"
            yield Need(f"{verb} {show}: {told.sentence}", address("return", show.code), show.back_at, meaning)


def _packed_for_nothing(at: datetime) -> Iterator[Need]:
    """Sealed cases of a show that was called off: give them another one, or unpack."""
    for show in Show.objects.filter(cancelled_at__isnull=False, back_at__gte=at).order_by("leaves_at"):
        packed = showing.count_reassignable(show, at, ever_sealed(at))
        if packed:
            yield Need(
                f"Re-assign or unpack {packed} sealed cases of {show}, which is cancelled.",
                address("show", show.code), show.leaves_at,
            )  # fmt: skip


def _leaving(at: datetime) -> Iterator[Need]:
    """For those who load: what leaves next."""
    for show in _coming(at)[:MOST]:
        yield Need(f"Load {show}: prep day {timezone.localtime(show.leaves_at):%-d %B at %H:%M}.",
                   address("show", show.code), show.leaves_at, "quiet")  # fmt: skip


def _loads(at: datetime) -> Iterator[Need]:
    """Vehicles and waybills to load, wait for or count off now."""
    going = boards.legs().filter(consignment__show__cancelled_at=None, consignment__show__back_at__gte=at)
    for turn in [one for one in turns(going, at) if one.when == When.NOW][:MOST]:
        by = hour_of(turn.leg, turn.phase) or at
        yield Need(f"{turn.verb} {turn.rides}, {turn.way}: {turn.words}", address("load", turn.leg.pk), by,
                   "stop" if by < at else "doubtful")  # fmt: skip


def _drive_matters(at: datetime) -> Iterator[Need]:
    """Content without power, sleds to relabel, letters without an answer."""
    for one in matters(at)[: MOST * 2]:
        where = address("drive-set", one.slug) if one.slug else address("item", one.code) if one.code else ""
        meaning = "stop" if one.late else "doubtful"
        yield Need(one.sentence, where or address("drive-sets"), one.since, meaning, (one.why,) if one.why else ())


SOURCES = (
    Source(_systems_to_ready, (KIT, LEAD)),
    Source(_clashes, (KIT,)),
    Source(_promises, (KIT, LEAD, STAFF), by_the_hour=True),
    Source(_off_hire, (KIT,), by_the_hour=True),
    Source(_drive_matters, (KIT, STAFF), by_the_hour=True),
    Source(_sealed_over_a_block, (KIT, LEAD)),
    Source(_held_scans, (KIT,)),
    Source(_contradictions, (KIT, LEAD)),
    Source(_work_list, (KIT,)),
    Source(_returns, (KIT, LEAD, CREW)),
    Source(_packed_for_nothing, (KIT,)),
    Source(_leaving, (LEAD, CREW)),
    Source(_loads, (KIT, LEAD, CREW), by_the_hour=True),
)
