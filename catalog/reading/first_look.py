"""A large text file looked through on the disk, so that one beyond the limits is refused before it fills the memory."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from pathlib import Path

from catalog.errors import Problem
from catalog.reading.delimited import MAX_LINES, cell_too_long, mark_of, separator_of, too_wide
from catalog.reading.rawtable import LAST_ROW, MAX_COLUMNS, problem_in, too_long

WORTH_A_LOOK = 8 * 2**20  # bytes; a smaller file is read as quickly as looked through
LONGEST_LINE = 8 * 2**20  # characters; 500 cells of a spreadsheet hold twice that and never do
_HEAD = 2**16


class _LineTooLong(ValueError):
    pass


def refused_unread(file: str, path: Path) -> Problem | None:
    """Why a large .csv or .tsv file is not read at all: too many rows, too many columns, or a quotation mark left open."""
    try:
        if path.stat().st_size <= WORTH_A_LOOK:
            return None
        with path.open("rb") as content:
            return _refusal(file, content)
    except OSError:
        return None  # said in its own words when the file is read


def _refusal(file: str, content: io.BufferedReader) -> Problem | None:
    mark, encoding = mark_of(content.peek(4))
    content.seek(len(mark))
    typed = io.TextIOWrapper(content, encoding, errors="replace", newline="")
    separator = separator_of(typed.read(_HEAD))
    typed.seek(0)
    typed.read(len(mark) > 0)  # the byte order mark is one character
    rows = number = 0
    try:
        for number, record in enumerate(csv.reader(_lines(typed), delimiter=separator), start=1):
            if rows == 0 and len(record) > MAX_COLUMNS:
                return problem_in(file, number, too_wide(len(record)), "", "too-wide")
            rows += any(record)
            if rows > LAST_ROW or number > MAX_LINES:
                return too_long(file, number)
    except _LineTooLong:
        limit = f"A line holds more than {LONGEST_LINE:,} characters, and a table has at most {MAX_COLUMNS} columns."
        return problem_in(file, number + 1, limit, "Is it a table? Save it with a line for each row.", "too-wide")
    except csv.Error as failure:
        return cell_too_long(file, number + 1) if "field larger" in str(failure) else None
    return None


def _lines(text: io.TextIOWrapper) -> Iterator[str]:
    """Lines with their ends. Raises _LineTooLong instead of keeping one that is endless."""
    while line := text.readline(LONGEST_LINE):
        if len(line) == LONGEST_LINE:
            raise _LineTooLong
        yield line
