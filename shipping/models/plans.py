"""What should be in which case, the plans that say so, and the searches that found them."""

from __future__ import annotations

import uuid

from django.db import models

from inventory.models import Item
from inventory.models.appendonly import AppendOnly
from shipping.models.consignments import Leg
from shipping.models.shows import Show


class PackLine(models.Model):
    """This item in this case for this show. Without a line, an item belongs in its home case."""

    show = models.ForeignKey(Show, models.CASCADE, related_name="pack_lines")
    item = models.ForeignKey(Item, models.PROTECT, related_name="pack_lines")
    case = models.ForeignKey(Item, models.PROTECT, related_name="planned_contents")
    slot = models.CharField(max_length=20, blank=True)
    quantity = models.PositiveIntegerField(default=1)
    why = models.CharField(max_length=200, blank=True)
    decided_by = models.CharField(max_length=120)
    decided_at = models.DateTimeField()

    class Meta:
        ordering = ["case", "id"]
        constraints = [models.UniqueConstraint(fields=["show", "item", "case"], name="one_pack_line")]

    def __str__(self) -> str:
        return f"{self.item} in {self.case} for {self.show}"


class PlanRun(models.Model):
    """One search for a better plan. The worker that searches writes here, any page reads here, and asks it to stop."""

    class Ending(models.TextChoices):
        FINISHED = "finished", "finished"
        STOPPED = "stopped", "stopped by a person"
        FAILED = "failed", "failed"
        LOST = "lost", "its worker went away"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    show = models.ForeignKey(Show, models.CASCADE, related_name="plan_runs")
    leg = models.ForeignKey(Leg, models.CASCADE, null=True, blank=True, related_name="plan_runs",
                            help_text="Whose deck is planned, if one is.")  # fmt: skip
    question = models.JSONField(help_text="What was asked beside the show itself.")
    input_digest = models.CharField(max_length=64)
    seconds = models.PositiveSmallIntegerField(help_text="How long it may search.")
    seed = models.PositiveIntegerField(default=0)
    started_at = models.DateTimeField()
    started_by = models.CharField(max_length=120)
    beat_at = models.DateTimeField(help_text="Last sign of life of its worker.")
    goal = models.CharField(max_length=80, blank=True)
    value = models.BigIntegerField(null=True, blank=True)
    bound = models.BigIntegerField(null=True, blank=True)
    stop_asked_by = models.CharField(max_length=120, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    ending = models.CharField(max_length=8, choices=Ending, blank=True)
    words = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["-started_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["show", "input_digest"], condition=models.Q(ended_at=None), name="one_live_run_per_question"
            )
        ]

    def __str__(self) -> str:
        return f"plan of {self.show}, {self.started_at:%Y-%m-%d %H:%M}"


class PackPlan(AppendOnly):
    """A plan that passed the check apart from the planner, with its input and the record of how good it is."""

    show = models.ForeignKey(Show, models.PROTECT, related_name="plans")
    run = models.UUIDField(null=True, blank=True, help_text="The search that found it, if it was one.")
    question = models.JSONField()
    load = models.JSONField(help_text="All that the planner was given, as a load file has it.")
    input_digest = models.CharField(max_length=64)
    plan = models.JSONField(help_text="Contents, vehicles, layouts, what is left and why, goals with their bounds.")
    items = models.JSONField(help_text="Item id to case id.")
    left = models.PositiveIntegerField()
    cases = models.PositiveIntegerField()
    moves = models.PositiveIntegerField()
    proven = models.BooleanField()
    engine = models.CharField(max_length=60)
    seed = models.PositiveIntegerField()
    seconds = models.FloatField()
    check_passed = models.BooleanField()
    made_at = models.DateTimeField()
    made_by = models.CharField(max_length=120)

    class Meta:
        ordering = ["-made_at", "-id"]
        indexes = [models.Index(fields=["show", "input_digest", "made_at"], name="plan_newest")]
        constraints = [models.CheckConstraint(condition=models.Q(check_passed=True), name="plan_passed_the_check")]

    def __str__(self) -> str:
        return f"plan {self.pk} of {self.show}"


class DeckPlan(AppendOnly):
    """Where each case stands on a leg's vehicle: a plan that passed the check apart, with its input and its record."""

    leg = models.ForeignKey(Leg, models.PROTECT, related_name="deck_plans")
    run = models.UUIDField(null=True, blank=True, help_text="The search that found it, if it was one.")
    question = models.JSONField(default=dict, help_text="What was asked beside the leg itself.")
    freight = models.JSONField(help_text="All that the planner was given, as a floor file has it.")
    input_digest = models.CharField(max_length=64)
    plan = models.JSONField(help_text="Places, what is left and why, goals with their bounds.")
    left = models.PositiveIntegerField()
    used_mm = models.PositiveIntegerField()
    proven = models.BooleanField()
    check_passed = models.BooleanField()
    made_at = models.DateTimeField()
    made_by = models.CharField(max_length=120)

    class Meta:
        ordering = ["-made_at", "-id"]
        constraints = [models.CheckConstraint(condition=models.Q(check_passed=True), name="deck_plan_passed_the_check")]

    def __str__(self) -> str:
        return f"deck plan {self.pk} of {self.leg}"


class DeckAcceptance(AppendOnly):
    """A person took a floor plan as the one to load by; papers print the newest of these."""

    plan = models.ForeignKey(DeckPlan, models.PROTECT, related_name="acceptances")
    accepted_at = models.DateTimeField()
    accepted_by = models.CharField(max_length=120)
    role = models.CharField(max_length=12)

    class Meta:
        ordering = ["-accepted_at", "-id"]

    def __str__(self) -> str:
        return f"{self.plan} accepted by {self.accepted_by}"


class PlanAcceptance(AppendOnly):
    """A person took a plan, whole or for some of its cases, as what goes where on the show."""

    plan = models.ForeignKey(PackPlan, models.PROTECT, related_name="acceptances")
    cases = models.JSONField(help_text="The ids of the cases it was taken for.")
    whole = models.BooleanField()
    accepted_at = models.DateTimeField()
    accepted_by = models.CharField(max_length=120)
    role = models.CharField(max_length=12)

    class Meta:
        ordering = ["-accepted_at", "-id"]

    def __str__(self) -> str:
        return f"{self.plan} accepted by {self.accepted_by}"
