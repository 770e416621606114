"""manage.py findings CODE|SHOW [--at ISO-TIME] [--json]"""

from __future__ import annotations

from inventory.management.answering import AnswerCommand
from shipping.judging import Findings


class Command(AnswerCommand):
    help = "Say what the packing rules say of a case or a show, worst first."
    name = "findings"

    def lines(self, answer: Findings) -> list[str]:
        said = [
            f"  {one.word:14} {one.sentence}" + (f" {one.way_out}" if one.way_out else "") for one in answer.reasons
        ]
        return [answer.sentence, *said, answer.caution]
