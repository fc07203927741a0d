"""The result of a check of one value, before its place is known."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from catalog.errors import Problem
from catalog.problems import Question
from catalog.reading.sources import place_of
from catalog.row_numbers import cell_of, place_text, row_of

AS_TYPED = "as typed"
"""The answer that what stands there is meant."""

AS_ENTERED = "as entered"
"""The answer of an export to what was not asked yet when the row was entered."""

LONGEST = 600  # characters of a sentence


@dataclass(frozen=True)
class Trouble:
    """Why a value is not taken: what was expected, what to do, and a stable code.

    askable    a person may confirm the value by an answer that repeats it
    options    what an answer to its cause may mean, where there is one
    proposals  what the text may have meant, where an answer may say it; None where none may
    question   what may be answered, once the place is known
    if_entered  a batch that was entered before this was asked may keep it: what stands there can be stored
    """

    expected: str
    remedy: str
    code: str
    askable: bool = False
    options: tuple[str, ...] = ()
    proposals: tuple[str, ...] | None = None
    question: Question | None = None
    if_entered: bool = False

    def with_answers(self, table: str, row: int, options: Sequence[str]) -> Trouble:
        """The same, with the lines of answers.toml that settle it for this row; without `row` they settle all."""
        choices = " or ".join(f'"{option}"' for option in options)
        stated = f'"{place_text(row)}"' if cell_of(row) else row_of(row)
        how = f'Answer it in answers.toml: cause = "{self.code}", table = "{table}", row = {stated}, means = {choices}.'
        question = Question(table=table, options=tuple(options), remedy=self.remedy)
        return replace(self, remedy=f"{self.remedy} {how}".lstrip(), question=question)

    def in_table(self, table: str) -> Trouble:
        """The same, with the answer that settles it wherever it stands in a table, if there is one."""
        if self.question is not None or (self.proposals is None and not self.askable):
            return self
        by_text = self.proposals is not None
        options = self.proposals if self.proposals is not None else (AS_TYPED,)
        return replace(self, question=Question(table=table, options=options, remedy=self.remedy, by_text=by_text))

    def at(self, source: str, row: int, column: str, value: object) -> Problem:
        """The same, with its place."""
        place = place_of(source)
        return Problem(
            table=place.table,
            row=row_of(row),
            column=column,
            value=str(value),
            expected=_readable(self.expected),
            remedy=self.remedy,
            code=self.code,
            file=place.file,
            sheet=place.sheet,
            cell=cell_of(row),
            by_cell=place.mapped,
            question=self.question,
            if_entered=self.if_entered,
        )


def _readable(sentence: str) -> str:
    """A message shortened in the middle, because it may quote a cell of thousands of characters."""
    return sentence if len(sentence) <= LONGEST else f"{sentence[: LONGEST // 2]} … {sentence[-LONGEST // 2 :]}"
