"""What the number of a row means: a row of its file, or a cell that a reading map made a row of.

A row is its number. One row of a cross table may hold many results, so a cell of it counts apart: number = row + 10^7 ·
column, with columns from 1 (A). People are shown "14" or "14.F".
"""

from __future__ import annotations

import re

_ROWS = 10**7  # above the last row of any table; it stands in catalogues, in SQL, too
_TYPED = re.compile(r"(\d{1,7})(?:\.([A-Za-z]{1,3}))?")


class RowNumber(int):
    """The number of a row, written as "14" or "14.F"."""

    @classmethod
    def of(cls, row: int, column: int = 0) -> RowNumber:
        """The number of a row, or of one of its cells; *column* counts from 1."""
        assert row < _ROWS
        return cls(row + _ROWS * column)

    def __str__(self) -> str:
        return place_text(self)

    def __format__(self, spec: str) -> str:
        return format(str(self), spec)


def place_text(number: int) -> str:
    """ "14", or "14.F" for a row that is one cell of its sheet."""
    column = column_of(number)
    return f"{row_of(number)}.{letters(column)}" if column else str(row_of(number))


def row_of(number: int) -> int:
    """The row of the sheet."""
    return int(number) % _ROWS


def column_of(number: int) -> int:
    """The column of a row that is one cell of its sheet, from 1; 0 for a whole row."""
    return number // _ROWS


def cell_of(number: int) -> str:
    """ "F14" for a row that is one cell of its sheet, else ""."""
    column = column_of(number)
    return f"{letters(column)}{row_of(number)}" if column else ""


def same_row(one: int, other: int) -> bool:
    """Whether two places lie in one row of the sheet."""
    return row_of(one) == row_of(other)


def typed_place(text: str) -> str | None:
    """A row as a person names it, "14" or "14.f", in the form of `place_text`; None for anything else."""
    match = _TYPED.fullmatch(text.strip())
    if match is None:
        return None
    return f"{int(match[1])}.{match[2].upper()}" if match[2] else str(int(match[1]))


def letters(column: int) -> str:
    """ "A" for column 1, "AA" for column 27."""
    text = ""
    while column:
        column, letter = divmod(column - 1, 26)
        text = chr(ord("A") + letter) + text
    return text
