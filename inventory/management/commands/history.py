"""manage.py history CODE [--at ISO-TIME] [--json]"""

from __future__ import annotations

from inventory.answers.values import History
from inventory.management.answering import AnswerCommand, local


class Command(AnswerCommand):
    help = "Tell everything that was recorded about a thing, newest first."
    name = "history"

    def lines(self, answer: History) -> list[str]:
        told = [
            f"  {local(line.at)}  {line.sentence}{'  (taken back)' if line.voided_by else ''}" for line in answer.lines
        ]  # fmt: skip
        return [answer.sentence, *told, *super().lines(answer)[1:]]
