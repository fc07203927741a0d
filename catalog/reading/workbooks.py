"""Tables in .xlsx workbooks (ISO/IEC 29500), one sheet of each."""

from __future__ import annotations

import datetime as dt
import io
import re
import zipfile
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from pathlib import PurePosixPath
from typing import IO

from defusedxml.common import DefusedXmlException

from catalog.errors import Problem
from catalog.reading.format import TABLES
from catalog.reading.rawtable import (
    LAST_ROW,
    Exact,
    Formula,
    RawTable,
    TooLarge,
    problem_in,
    table_from_rows,
    table_stem,
)
from catalog.reading.sources import SourcePath

MAX_UNPACKED_BYTES = 2 * 2**30
MAX_RATIO = 400  # a sheet of one repeated short row packs about 100:1; bombs 1000:1 and more
MAX_PARTS = 10_000
_RATIO_FROM_BYTES = 32 * 2**20
_PIECE = 2**20
_COMPOUND = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"  # begins older workbooks, and new ones with a password: MS-CFB 2.2
_ROW_NUMBER = re.compile(rb'(?:[^>]*? )?r="([0-9]{1,18})"')
# A cell with something in it, in a column beyond SF, which is the 500th.
_FAR_COLUMN = re.compile(
    rb'<c r="(?:[A-Z]{3}|S[G-Z]|[T-Z][A-Z])([0-9]{1,18})"[^>]*(?<!/)>(?:<f[^>]*(?:/>|>[^<]*</f>))?<(?:v>|is>)'
)

SourceOf = Callable[[str], str | None]


def read_workbook(file: str, content: bytes) -> RawTable:
    """An .xlsx file as a table: values as stored, dates as ISO 8601, the results of formulas."""
    sheets = workbook_sheets(file, content, lambda title: file)
    return chosen_sheet(file, sheets) if isinstance(sheets, list) else unread(file, sheets)


def unread(file: str, problem: Problem) -> RawTable:
    """A file of which nothing is read, and why."""
    return RawTable(file, table_stem(file), problems=[problem])


def workbook_sheets(file: str, content: bytes, source_of: SourceOf) -> list[tuple[RawTable, bool]] | Problem:
    """Every sheet of an .xlsx file, and whether it shows; or why the file cannot be read.

    source_of  title -> source of its rows; None for a sheet that is not read: only whether there is anything in it
    """
    import openpyxl  # slow to import, and most batches are text

    from catalog.reading.sheets import Sheet

    if (refusal := refused_archive(file, content)) is not None:
        return refusal
    try:
        book = openpyxl.load_workbook(io.BytesIO(content), read_only=True, data_only=True)
        tables = []
        for worksheet in book.worksheets:
            sheet = Sheet(book, worksheet)
            shows = worksheet.sheet_state == "visible"
            source = source_of(worksheet.title)
            if source is None:
                tables.append((left_alone(file, worksheet.title, sheet.rows()), shows))
                continue
            table = sheet_table(source, worksheet.title, sheet.rows(), sheet.hidden_rows, sheet.hidden_columns)
            tables.append((table, shows))
        book.close()
    except TooLarge as limit:
        return limit.problem(file)
    except Exception as failure:  # the reader meets broken files with any exception there is
        return unreadable(file, "an .xlsx workbook", failure)
    return tables


def left_alone(file: str, title: str, rows: Iterable[tuple[int, Sequence[str]]]) -> RawTable:
    """A sheet that is not read, with its first row that holds anything as its heading."""
    first = next((row for _, row in rows if any(row)), ())
    return RawTable(file, "", headers=first, sheet=title)


def sheet_table(
    file: str, title: str, rows: Iterable[tuple[int, Sequence[str]]], hidden_rows: set[int], hidden_columns: set[int]
) -> RawTable:
    """One sheet as a table. hidden_rows, hidden_columns: filled while *rows* are read; only those with text count."""
    of_results = not isinstance(file, SourcePath) or file.table in TABLES
    table = table_from_rows(file, rows, Counter(), of_results=of_results)
    numbers = hidden_rows & {row.number for row in table.rows}
    places = {place for place in hidden_columns if place < len(table.headers) and _has_text(table, place)}
    return replace(table, sheet=title, hidden_rows=frozenset(numbers), hidden_columns=frozenset(places))


def _has_text(table: RawTable, place: int) -> bool:
    return bool(table.headers[place]) or any(row.cells[place] for row in table.rows)


def chosen_sheet(file: str, tables: Sequence[tuple[RawTable, bool]]) -> RawTable:
    """The sheet that is read: the one called like the file, else the first called like a table, else the first filled.

    It is one, because a row is known by its file and number. The others are named, with what to do. A hidden sheet
    is never chosen: one that would be, if it showed, comes along for whoever asks.

    tables  every sheet, and whether it shows
    """
    filled = [(table, shows) for table, shows in tables if not _is_empty(table)]
    if not filled:
        empty = problem_in(file, 1, "The file has no header row.", "Write the column names in row 1.", "no-header")
        return RawTable(file, table_stem(file), problems=[empty])
    first = _first(file, [table for table, _ in filled])
    shown = [table for table, shows in filled if shows]
    chosen = _first(file, shown) if shown else RawTable(file, table_stem(file))
    hidden = None if chosen is first else first
    notices = [
        _further(file, chosen, other, shows) for other, shows in filled if other is not chosen and other is not hidden
    ]
    return replace(_named(file, chosen), notices=notices, hidden_sheet=hidden and _named(file, hidden))


def _is_empty(table: RawTable) -> bool:
    return [problem.code for problem in table.problems] == ["no-header"]


def _first(file: str, tables: Sequence[RawTable]) -> RawTable:
    same_name = [table for table in tables if _called(table) == table_stem(file)]
    named = [table for table in tables if _called(table) in TABLES]
    return [*same_name, *named, *tables][0]


def _called(table: RawTable) -> str:
    return table.sheet.strip().casefold()


def _named(file: str, table: RawTable) -> RawTable:
    """The table under the name it goes by: the file's, or its sheet's where that is a table's and the file's is not."""
    called = table_stem(file)
    return replace(table, stem=_called(table) if _called(table) in TABLES and called not in TABLES else called)


def _further(file: str, chosen: RawTable, other: RawTable, shows: bool) -> Problem:
    """A sheet that is left out, and what to do about it."""
    left_out = f'Only the sheet "{chosen.sheet}" is read; {"" if shows else "the hidden sheet "}"{other.sheet}" is not.'
    alone = "Save it as a file of its own."
    if _called(other) in TABLES:
        alone = f"Save it as {_called(other)}{PurePosixPath(file).suffix} beside this one."
    return problem_in(file, 1, left_out, alone, "further-sheet")


def refused_archive(file: str, content: bytes) -> Problem | None:
    """Why a packed file may not be unpacked: no archive at all, or one that would swell beyond reason."""
    if (other := _something_else(content)) is not None:
        return problem_in(file, 1, f"The file is no spreadsheet of today: {other[0]}.", other[1], "unreadable")
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            parts = archive.infolist()
    except zipfile.BadZipFile:
        sentence = "The file begins as a spreadsheet and does not end as one: a part of it is missing."
        return problem_in(file, 1, sentence, "Copy or save it again.", "unreadable")
    except Exception as failure:
        return unreadable(file, "a spreadsheet", failure)
    unpacked = sum(part.file_size for part in parts)
    if (
        len(parts) > MAX_PARTS
        or unpacked > MAX_UNPACKED_BYTES
        or (unpacked > _RATIO_FROM_BYTES and unpacked > MAX_RATIO * len(content))
    ):
        size = f"The file would unpack to {unpacked / 10**6:,.0f} MB from {len(content) / 10**6:,.1f} MB."
        return problem_in(file, 1, size, "That is refused. Save the table as CSV.", "swells")
    return None


def require_few_rows(
    sheet: IO[bytes], row: bytes, filled: Sequence[bytes], *, repeated: re.Pattern[bytes] | None = None
) -> None:
    """Look at the rows that hold something without parsing them. Raises TooLarge for too many, or one too far out.

    row       how a row begins in the XML
    filled    what only stands in a row that holds something
    repeated  how often a row is there, in its tag, where rows have no number of their own; then the XML is of several
              sheets
    """
    count = number = 0
    begun = False
    rest = b""
    while piece := sheet.read(_PIECE):
        text = rest + piece
        *rows, rest = text.split(row)
        if not begun and rows:
            rows, begun = rows[1:], True  # what stands before the first row
        count, number = _counted(rows, filled, count, number, repeated)
        if repeated is None and (far := _FAR_COLUMN.search(text)) is not None:
            raise TooLarge.column(int(far[1]))
    if begun:
        _counted([rest], filled, count, number, repeated)


def _counted(
    rows: Sequence[bytes], filled: Sequence[bytes], count: int, number: int, repeated: re.Pattern[bytes] | None
) -> tuple[int, int]:
    """How many rows hold something, and the number of the last row, after some more rows. Raises TooLarge."""
    last = b""
    for text in rows:
        holds = any(mark in text for mark in filled)
        count += holds
        if repeated is not None:
            if holds and number >= LAST_ROW:
                raise TooLarge.row(number + 1)
            match = repeated.match(text)
            number += 1 if match is None else int(match[1]) if len(match[1]) < 10 else 10**9
            if b"<table:table " in text:
                number = 0
        elif holds:
            last = text
    if count > LAST_ROW:
        raise TooLarge.row(count)
    # Rows with numbers are in order, which is checked when they are parsed: the last one of these is the farthest.
    if last and (match := _ROW_NUMBER.match(last)) is not None and int(match[1]) > LAST_ROW:
        raise TooLarge.row(int(match[1]))
    return count, number


def _something_else(content: bytes) -> tuple[str, str] | None:
    """What a file is that is not packed as spreadsheets are, and what to do; None for one that is."""
    if content.startswith(b"PK"):
        return None
    if not content:
        return "it is empty", "Save it again."
    if content.startswith(_COMPOUND):
        return "it is one of an older kind, or has a password", "Save it as .xlsx or .ods, without a password."
    if content.lstrip()[:1] == b"<":
        return (
            "it is a page of the web under this name",
            "Open it in a spreadsheet program and save it as .xlsx or .ods.",
        )
    return "it is something else under this name", "Save it as .xlsx or .ods in the program it was made with."


def unreadable(file: str, kind: str, failure: Exception) -> Problem:
    """The file is damaged or something else under this name."""
    reason = (str(failure).splitlines() or [type(failure).__name__])[0].rstrip(".")[:200]
    if any(isinstance(cause, DefusedXmlException) for cause in (failure, failure.__cause__, failure.__context__)):
        reason = "it defines entities or names other files, which no spreadsheet program writes"
    return problem_in(file, 1, f"The file cannot be read as {kind}: {reason}.", "Save it again.", "unreadable")


def cell_text(value: object, *, timed: bool = True) -> str:
    """A cell as a person would type it. Whole numbers have no decimals; dates are ISO 8601.

    timed  the cell shows a time of day; without one, midnight was not typed as a time
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int):
        return Exact(value)
    if isinstance(value, float):
        return Exact(int(value)) if value.is_integer() and abs(value) < 1e15 else Exact(repr(value))
    if isinstance(value, dt.datetime):
        if not timed and value.time() == dt.time():
            return value.date().isoformat()
        return value.isoformat(" ", timespec="seconds")
    if isinstance(value, dt.date | dt.time):
        return value.isoformat()
    return value if isinstance(value, Formula) else str(value)
