"""manage.py whereabouts CODE [--at ISO-TIME] [--json]"""

from __future__ import annotations

from inventory.answers.values import Whereabouts
from inventory.management.answering import AnswerCommand, local


class Command(AnswerCommand):
    help = "Say where a thing is, how sure, and on what evidence."
    name = "whereabouts"

    def lines(self, answer: Whereabouts) -> list[str]:
        since = [f"  since {local(answer.since)}"] if answer.since else []
        return [answer.sentence, f"  {answer.answer}", *since, *super().lines(answer)[1:]]
