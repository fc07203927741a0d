"""Whether the row under a heading belongs to it: units, or the names of columns under merged cells."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import cache

from catalog.reading.format import TABLES
from catalog.units import parse_unit


def is_second_heading(cells: Sequence[str]) -> bool:
    """Whether *cells* go on with the heading above them.

    They do when every one is a unit, or when at least two, and half of them, name columns of the format, and
    none holds a digit. A row of results never looks like that: it has a number, a time or a name of its own.
    """
    filled = [cell for cell in cells if cell]
    if not filled or any(character.isdigit() for cell in filled for character in cell):
        return False
    if all(_is_unit(cell) for cell in filled):
        return True
    named = sum(_names_a_column(cell) for cell in filled)
    return named >= 2 and 2 * named >= len(filled)


def _is_unit(cell: str) -> bool:
    return parse_unit(cell.strip("()[] ")) is not None


def _names_a_column(cell: str) -> bool:
    words = re.sub(r"[_\s()\[\],:;]+", " ", cell).split()
    if not words:
        return False
    if len(words) > 1 and _is_unit(words[-1]):
        words.pop()
    return _is_unit(cell) or " ".join(words).casefold() in _spellings()


@cache
def _spellings() -> frozenset[str]:
    columns = [column for table in TABLES.values() for column in table.columns]
    names = {column.name.replace("_", " ") for column in columns}
    return frozenset(names.union(*(column.synonyms for column in columns)))
