"""manage.py reconcile SHOW [--at ISO-TIME] [--json]"""

from __future__ import annotations

from inventory.management.answering import AnswerCommand
from shipping.reconcile import Reconciliation


class Command(AnswerCommand):
    help = "Say what became of everything that left with a show: one outcome each."
    name = "reconcile"

    def lines(self, answer: Reconciliation) -> list[str]:
        lines = [f"  {line.outcome:24} {line.item.words:28} {line.item.serial}" for line in answer.lines]
        return [*super().lines(answer), "", *lines]
