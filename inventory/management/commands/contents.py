"""manage.py contents CODE [--at ISO-TIME] [--json]"""

from __future__ import annotations

from inventory.answers.values import ContentLine, Contents
from inventory.management.answering import AnswerCommand


class Command(AnswerCommand):
    help = "Say what is in a case, a vehicle or a place, and what should be."
    name = "contents"

    def lines(self, answer: Contents) -> list[str]:
        stands = [answer.stands] if answer.stands else []
        return [answer.sentence, *stands, *(self._line(line) for line in answer.lines), *super().lines(answer)[1:]]

    @staticmethod
    def _line(line: ContentLine) -> str:
        state = "here" if line.here and line.expected else "extra" if line.here else "elsewhere"
        sure = f" · {line.strength}" if line.strength else ""
        return f"  {line.bay or line.home_bay:4} {line.item.words:24} {line.item.serial:16} {state}{sure}"
