"""The result of a check of one value, before its place is known."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from catalog.errors import Problem

LONGEST = 600  # characters of a sentence


@dataclass(frozen=True)
class Trouble:
    """Why a value is not taken: what was expected, what to do, and a stable code.

    askable  a person may confirm the value by an answer that repeats it
    options  what an answer to its cause may mean, where there is one
    """

    expected: str
    remedy: str
    code: str
    askable: bool = False
    options: tuple[str, ...] = ()

    def with_answers(self, table: str, row: int, options: Sequence[str]) -> Trouble:
        """The same, with the lines of answers.toml that settle it for this row; without `row` they settle all."""
        choices = " or ".join(f'"{option}"' for option in options)
        how = f'Answer it in answers.toml: cause = "{self.code}", table = "{table}", row = {row}, means = {choices}.'
        return replace(self, remedy=f"{self.remedy} {how}".lstrip())

    def at(self, table: str, row: int, column: str, value: object) -> Problem:
        """The same, with its place."""
        return Problem(
            table=table,
            row=row,
            column=column,
            value=str(value),
            expected=_readable(self.expected),
            remedy=self.remedy,
            code=self.code,
        )


def _readable(sentence: str) -> str:
    """A message shortened in the middle, because it may quote a cell of thousands of characters."""
    return sentence if len(sentence) <= LONGEST else f"{sentence[: LONGEST // 2]} … {sentence[-LONGEST // 2 :]}"
