"""What a check says about one value, before anyone knows where the value stood."""

from __future__ import annotations

from dataclasses import dataclass

from catalog.errors import Problem

LONGEST = 600  # characters of a sentence


@dataclass(frozen=True)
class Trouble:
    """Why a value is not taken: what was expected, what to do, and a stable code.

    askable  a person may confirm the value by an answer that repeats it
    """

    expected: str
    remedy: str
    code: str
    askable: bool = False

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
    """A sentence that quotes a cell of thousands of characters, without its middle."""
    return sentence if len(sentence) <= LONGEST else f"{sentence[: LONGEST // 2]} … {sentence[-LONGEST // 2 :]}"
