"""What a dry run has to say: cells that must change, questions for a person, and remarks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import groupby

from inventory.exchange.raw import column_letter


@dataclass(frozen=True, slots=True)
class Spot:
    """Where in the sheet; row and column from 0, None for the whole tab."""

    tab: str
    row: int | None = None
    column: int | None = None

    @property
    def where(self) -> str:
        letter = column_letter(self.column) if self.column is not None else ""
        if self.row is None:
            return f"column {letter}" if letter else self.tab
        return f"{letter}{self.row + 1}" if letter else f"row {self.row + 1}"

    @property
    def ref(self) -> str:
        """The name of its row, as kept in the record."""
        return row_ref(self.tab, self.row) if self.row is not None else ""


def row_ref(tab: str, row: int) -> str:
    return f"{tab}!{row + 1}"


def runs(spots: Sequence[Spot]) -> list[str]:
    """Spots in words, those of rows that follow one another together: `rows 4 to 14`, `J7`, `J9 to J11`."""
    keyed = groupby(enumerate(spots), key=lambda one: (one[1].tab, one[1].column, (one[1].row or 0) - one[0]))
    return [_run([spot for _at, spot in run]) for _key, run in keyed]


def _run(spots: Sequence[Spot]) -> str:
    first, last = spots[0], spots[-1]
    if first is last:
        return first.where
    if first.column is None:
        return f"rows {(first.row or 0) + 1} to {(last.row or 0) + 1}"
    return f"{first.where} to {last.where}"


@dataclass(frozen=True, slots=True)
class Notice:
    """`refused`: the cell must change in the sheet, or its row is left out. `unknown`: the cell says nothing the book
    can keep, so it goes on the work list as words. `remark`: nothing to do."""

    level: str
    spot: Spot
    sentence: str


@dataclass(frozen=True, slots=True)
class Choice:
    value: str
    label: str


@dataclass(frozen=True, slots=True)
class Question:
    """Answered on the screen. `free`: 'text', 'number' or 'who and how' where words are wanted besides the choices."""

    id: str
    sentence: str
    spots: tuple[Spot, ...]
    choices: tuple[Choice, ...] = ()
    free: str = ""
    holds_up: bool = True
    answer: str = ""

    @property
    def is_open(self) -> bool:
        return not self.answer

    @property
    def answer_words(self) -> str:
        """The answer as it read on the screen."""
        return next((one.label for one in self.choices if one.value == self.answer), self.answer.replace("|", ": "))

    @property
    def where(self) -> list[str]:
        """Where in the sheet it is about, rows that follow one another together."""
        return runs(self.spots)

    @property
    def rows(self) -> list[str]:
        """The rows it is about, each once; none where it is about a column or the whole sheet."""
        return list(dict.fromkeys(spot.ref for spot in self.spots if spot.ref))


@dataclass(slots=True)
class Notices:
    """Collects while a sheet is read; knows the answers already given."""

    answers: Mapping[str, str] = field(default_factory=dict)
    notices: list[Notice] = field(default_factory=list)
    questions: dict[str, Question] = field(default_factory=dict)

    def refuse(self, spot: Spot, sentence: str) -> None:
        self.notices.append(Notice("refused", spot, sentence))

    def unknown(self, spot: Spot, sentence: str) -> None:
        self.notices.append(Notice("unknown", spot, f"{sentence} It stays unknown and goes on the work list."))

    def remark(self, spot: Spot, sentence: str) -> None:
        self.notices.append(Notice("remark", spot, sentence))

    def ask(
        self, ident: str, sentence: str, spots: Sequence[Spot], *, choices: Sequence[tuple[str, str]] = (),
        free: str = "", holds_up: bool = True,
    ) -> str:  # fmt: skip
        """Put a question, and return the answer a person already gave, or ''."""
        options = tuple(Choice(*choice) for choice in choices)
        answer = accepted(self.answers.get(ident, ""), options, free)
        self.questions[ident] = Question(ident, sentence, tuple(spots), options, free, holds_up, answer)
        return answer

    @property
    def refused(self) -> list[Notice]:
        return [notice for notice in self.notices if notice.level == "refused"]

    @property
    def remarks(self) -> list[Notice]:
        return [notice for notice in self.notices if notice.level == "remark"]

    @property
    def unread(self) -> list[Notice]:
        return [notice for notice in self.notices if notice.level == "unknown"]


def accepted(answer: str, choices: Sequence[Choice], free: str) -> str:
    """The answer if it is one that was offered, else ''."""
    answer = str(answer).strip()
    if any(choice.value == answer for choice in choices):
        return answer
    if free == "number":
        return answer if answer.isdigit() and 1 <= int(answer) < 10_000_000 else ""
    if free == "who and how":
        who, _, how = answer.partition("|")
        return answer if who.strip() and how.strip() else ""
    return answer[:120] if free == "text" else ""
