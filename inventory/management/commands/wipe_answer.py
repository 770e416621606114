"""manage.py wipe_answer CODE|SET|SHOW [--at ISO-TIME] [--json]"""

from __future__ import annotations

from inventory.answers.wiping import WipeAnswer
from inventory.management.answering import AnswerCommand


class Command(AnswerCommand):
    help = "Say whether a drive, a set, or the set of a show may be wiped: YES, NO or NOT KNOWN, with every reason."
    name = "wipe_answer"

    def lines(self, answer: WipeAnswer) -> list[str]:
        gone = [f"  left out, destroyed: {ref.serial or ref.words}" for ref in answer.left_out]
        return [*super().lines(answer), *(f"  {one.sentence}" for one in answer.members), *gone]
