"""manage.py whereabouts CODE [--at ISO-TIME] [--json]"""

from __future__ import annotations

from inventory.answers.values import Whereabouts
from inventory.management.answering import AnswerCommand, local
from inventory.where_answers import SetWhereabouts


class Command(AnswerCommand):
    help = "Say where a thing is, how sure, and on what evidence."
    name = "whereabouts"

    def lines(self, answer: Whereabouts | SetWhereabouts) -> list[str]:
        if isinstance(answer, SetWhereabouts):
            each = [f"  {one.answer:<14} {one.sentence}" for one in answer.drives]
            return [answer.sentence, f"  {answer.answer}", *each, *super().lines(answer)[1:]]
        since = [f"  since {local(answer.since)}"] if answer.since else []
        return [answer.sentence, f"  {answer.answer}", *since, *super().lines(answer)[1:]]
