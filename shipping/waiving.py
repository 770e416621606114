"""A person's word over a rule: who may give it, and how long it stands."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Count, Q

from inventory.ledger import Witness
from inventory.models import Role
from shipping.models import Waiver
from shipping.packing.facts import Finding
from shipping.packing.rules import RULES

NOT_APPROVED = "not approved by this tool"


class WaiveRefusal(ValueError):
    """This person cannot waive this. Carries a sentence to show."""


@dataclass(frozen=True, slots=True)
class Judged:
    """A finding with the waiver that stands over it, if any."""

    finding: Finding
    waiver: Waiver | None

    @property
    def blocks(self) -> bool:
        return self.finding.blocks and self.waiver is None


def standing(findings: Iterable[Finding]) -> list[Judged]:
    """Each finding with its waiver: the same rule, subject and facts. One query for all."""
    said = list(findings)
    given: dict[tuple[str, str, str], Waiver] = {}
    waivers = Waiver.objects.filter(subject__in={one.subject for one in said}).order_by("given_at", "pk")
    for waiver in waivers:
        given[waiver.rule, waiver.subject, waiver.digest] = waiver
    return [Judged(one, given.get((one.rule, one.subject, one.digest))) for one in said]


def decision_only(finding: Finding) -> bool:
    """Is this one of the rules that nobody can waive, where only a recorded decision stands?"""
    return finding.rule in RULES and RULES[finding.rule].decision_only


def refusal(finding: Finding, *, by: Witness, document: str, person: str, leads_show: bool) -> str:
    """Why this person may not set this finding aside now; nothing if they may."""
    if by.day_pass is not None or by.role not in (Role.KIT_MANAGER, Role.ROAD_LEAD):
        return "Only the kit manager, or the road lead on their show, can waive a rule. Ring one of them."
    if by.role == Role.ROAD_LEAD and not leads_show:
        return "A road lead waives rules for their own show only. Ring the kit manager."
    if decision_only(finding) and not (document.strip() and person.strip()):
        return (
            "Nobody can waive this rule. Change the facts, or record whose decision it is: their name and role, "
            "and the document it stands in."
        )
    return ""


def waive(
    finding: Finding, *, reason: str, by: Witness, at: datetime, document: str = "", person: str = "",
    reference: str = "", leads_show: bool = False,
) -> Waiver:  # fmt: skip
    """Record the word. It stands while the same rule says the same of the same subject."""
    if not reason.strip():
        raise WaiveRefusal("Say why. The reason is kept with your name.")
    if no := refusal(finding, by=by, document=document, person=person, leads_show=leads_show):
        raise WaiveRefusal(no)
    decided = decision_only(finding)
    words = f"decision of {person.strip()}: {reason.strip()}; {NOT_APPROVED}" if decided else reason.strip()
    return Waiver.objects.create(
        rule=finding.rule, subject=finding.subject, digest=finding.digest, reason=words[:250],
        document=document.strip(), is_decision=decided, by=by.name, role=by.role, reference=reference, given_at=at,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Counted:
    """How many times a rule was waived or decided over: ever, and since a moment."""

    ever: int
    lately: int


def how_often(rules: Iterable[str], *, since: datetime) -> dict[str, Counted]:
    """How many times each rule was set aside, in one query."""
    rows = Waiver.objects.filter(rule__in=list(rules)).order_by().values_list("rule")
    rows = rows.annotate(ever=Count("pk"), lately=Count("pk", filter=Q(given_at__gte=since)))
    return {rule: Counted(ever, lately) for rule, ever, lately in rows}
