"""Which entries stand: as one expression, written out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db.models import BooleanField, Expression, F

from inventory.models import Entry, Role, Verb


class Stands(Expression):
    """True of an entry that no correction took back: its own device's, or a kit manager's; an amendment always stands.

    The same as `loading.corrections` says, in the words that Django would make of it. Half of all queries of a page
    carry it, and making them anew took longer than the database takes to answer.
    """

    WORDS = (
        "(NOT ({verb} = %s) AND ({verb} = %s OR NOT EXISTS(SELECT 1 FROM {table} undoing WHERE"
        ' (undoing."device_id" = ({device}) OR (undoing."day_pass_id" IS NULL AND undoing."role" = %s))'
        ' AND undoing."corrects" = ({act}))))'
    )

    def __init__(self) -> None:
        super().__init__(output_field=BooleanField())
        self.columns: list[Any] = [F("verb"), F("device"), F("act")]

    def get_source_expressions(self) -> list[Any]:
        return self.columns

    def set_source_expressions(self, exprs: Sequence[Any]) -> None:
        self.columns = list(exprs)

    def as_sql(self, compiler: Any, connection: Any) -> tuple[str, tuple[str, ...]]:
        verb, device, act = (compiler.compile(column)[0] for column in self.columns)
        table = connection.ops.quote_name(Entry._meta.db_table)
        words = self.WORDS.format(verb=verb, device=device, act=act, table=table)
        return words, (Verb.CORRECTED.value, Verb.AMENDED.value, Role.KIT_MANAGER.value)
