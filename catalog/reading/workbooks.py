"""Tables in .xlsx workbooks (ISO/IEC 29500), one sheet of each."""

from __future__ import annotations

import datetime as dt
import io
import zipfile
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import PurePosixPath
from typing import Any

from catalog.errors import Problem
from catalog.reading.format import TABLES
from catalog.reading.rawtable import (
    MAX_COLUMNS,
    MAX_ROWS,
    MAX_TITLES,
    Exact,
    RawTable,
    problem_in,
    table_from_rows,
    table_stem,
)

MAX_UNPACKED_BYTES = 2 * 2**30
MAX_RATIO = 400  # a sheet of one repeated short row packs about 100:1; bombs 1000:1 and more
MAX_PARTS = 10_000
_RATIO_FROM_BYTES = 32 * 2**20


def read_workbook(file: str, content: bytes) -> RawTable:
    """An .xlsx file as a table: values as stored, dates as ISO 8601, the results of formulas."""
    import openpyxl  # slow to import, and most batches are text

    if (refusal := refused_archive(file, content)) is not None:
        return RawTable(file, table_stem(file), problems=[refusal])
    repairs: Counter[str] = Counter()
    try:
        book = openpyxl.load_workbook(io.BytesIO(content), read_only=True, data_only=True)
        tables = []
        for sheet in book.worksheets:
            sheet.reset_dimensions()  # what a file claims about its size may be wrong, or a trap
            tables.append((sheet.title, table_from_rows(file, _rows(sheet), Counter())))
        book.close()
    except Exception as failure:  # the reader meets broken files with any exception there is
        return RawTable(file, table_stem(file), problems=[unreadable(file, "an .xlsx workbook", failure)])
    return chosen_sheet(file, tables, repairs)


def chosen_sheet(file: str, tables: Sequence[tuple[str, RawTable]], repairs: Counter[str]) -> RawTable:
    """The sheet that is read: the one called like the file, else the first called like a table, else the first filled.

    It is one, because a row is known by its file and number. The others are named, with what to do.
    """
    filled = {title: table for title, table in tables if table.headers or table.rows}
    if not filled:
        empty = problem_in(file, 1, "The file has no header row.", "Write the column names in row 1.", "no-header")
        return RawTable(file, table_stem(file), problems=[empty])
    stems = {title: title.strip().casefold() for title in filled}
    own = [title for title in filled if stems[title] == table_stem(file)]
    named = [title for title in filled if stems[title] in TABLES]
    title = [*own, *named, *filled][0]
    table = filled[title]
    notices = list(table.notices)
    for other in filled:
        if other == title:
            continue
        left_out = f'Only the sheet "{title}" is read; "{other}" is not.'
        alone = "Save it as a file of its own."
        if other in named:
            alone = f"Save it as {stems[other]}{PurePosixPath(file).suffix} beside this one."
        notices.append(problem_in(file, 1, left_out, alone, "further-sheet"))
    called = table_stem(file)
    return replace(
        table,
        stem=stems[title] if title in named and called not in TABLES else called,
        notices=notices,
        repairs=table.repairs + repairs,
    )


def refused_archive(file: str, content: bytes) -> Problem | None:
    """Why a packed file may not be unpacked: no archive at all, or one that would swell beyond reason."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            parts = archive.infolist()
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


def unreadable(file: str, kind: str, failure: Exception) -> Problem:
    """The file is damaged or something else under this name."""
    reason = (str(failure).splitlines() or [type(failure).__name__])[0].rstrip(".")[:200]
    return problem_in(file, 1, f"The file cannot be read as {kind}: {reason}.", "Save it again.", "unreadable")


def _rows(sheet: Any) -> Iterator[tuple[int, Sequence[str]]]:
    """Rows as text. Raises ValueError for text beyond the limits; blank rows and cells out there are nothing."""
    for number, row in enumerate(sheet.iter_rows(values_only=True), start=1):
        if number > MAX_ROWS + MAX_TITLES + 1 and any(value is not None for value in row):
            raise ValueError(f"a table has at most {MAX_ROWS:,} rows, and there is text in row {number:,}")
        if len(row) > MAX_COLUMNS and any(value is not None for value in row[MAX_COLUMNS:]):
            raise ValueError(f"a table has at most {MAX_COLUMNS} columns, and row {number:,} has text beyond them")
        if number <= MAX_ROWS + MAX_TITLES + 1:
            yield number, [cell_text(value) for value in row[:MAX_COLUMNS]]


def cell_text(value: object) -> str:
    """A cell as a person would type it. Whole numbers have no decimals; dates are ISO 8601."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int):
        return Exact(value)
    if isinstance(value, float):
        return Exact(int(value)) if value.is_integer() and abs(value) < 1e15 else Exact(repr(value))
    if isinstance(value, dt.datetime):
        return value.isoformat(" ", timespec="seconds")
    if isinstance(value, dt.date | dt.time):
        return value.isoformat()
    return str(value)
