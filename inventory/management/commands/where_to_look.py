"""manage.py where_to_look CODE [--at ISO-TIME] [--json]"""

from __future__ import annotations

from inventory.management.answering import AnswerCommand


class Command(AnswerCommand):
    help = "Rank the places to look for a thing that nobody can find, each with the points that speak for it."
    name = "where_to_look"
