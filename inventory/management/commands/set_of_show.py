"""manage.py set_of_show SHOW [--at ISO-TIME] [--json]"""

from __future__ import annotations

from collections.abc import Iterator

from inventory.answers.show_set import ShowDrive, ShowSet
from inventory.management.answering import AnswerCommand, local


class Command(AnswerCommand):
    help = "List every drive that ever held a show: when, how known, where it is now, copies, and may it be wiped."
    name = "set_of_show"

    def lines(self, answer: ShowSet) -> list[str]:
        copies = [f"  copy: {one.word}, {one.medium}, {one.where}" for one in answer.copies]
        return [*super().lines(answer), *(line for one in answer.drives for line in _drive(one)), *copies]


def _drive(one: ShowDrive) -> Iterator[str]:
    bay = f"{one.drive_set} {one.bay} ".strip()
    swapped = ", swapped out" if one.swapped_out else ""
    yield f"  {bay} {one.drive.serial or one.drive.words}{swapped}: {one.where_words} ({one.where.answer})"
    for stretch in one.stretches:
        end = local(stretch.end) if stretch.end else "now"
        known = ", ".join((*stretch.grades, *stretch.marks))
        yield f"    {local(stretch.start)} to {end}, {stretch.standing} ({known})"
    yield f"    {one.wipe.answer}; {one.copies} confirmed copies"
