"""One sheet of a file as a grid of cells, for reading maps: what each cell holds, what is merged, what is hidden."""

from __future__ import annotations

import datetime as dt
import io
import zipfile
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import PurePosixPath

from catalog.errors import Problem
from catalog.reading.delimited import delimited_rows
from catalog.reading.opendocument import open_sheets
from catalog.reading.rawtable import TooLarge, problem_in
from catalog.reading.workbooks import refused_archive, unreadable
from catalog.row_numbers import letters

MOST_COVERED = 1_000_000  # cells under merged ones


@dataclass(frozen=True)
class Grid:
    """A sheet. Rows and columns count from 1.

    rows      row -> trimmed texts of its cells; rows without text are left out
    covered   (row, column) under a merged cell -> where its text stands
    day_zero  the day that its day numbers count from; None for a text file, which has no date system
    shows     whether the sheet is not hidden
    """

    file: str
    sheet: str
    rows: Mapping[int, Sequence[str]]
    covered: Mapping[tuple[int, int], tuple[int, int]] = field(default_factory=dict)
    hidden_rows: frozenset[int] = frozenset()
    hidden_columns: frozenset[int] = frozenset()
    day_zero: dt.date | None = None
    shows: bool = True
    repairs: Counter[str] = field(default_factory=Counter)

    def text(self, row: int, column: int) -> str:
        """What stands in a cell; under a merged one its text."""
        row, column = self.covered.get((row, column), (row, column))
        cells = self.rows.get(row, ())
        return cells[column - 1] if column <= len(cells) else ""

    def origin(self, row: int, column: int) -> str:
        """The cell that a text stands in, such as "C5"."""
        row, column = self.covered.get((row, column), (row, column))
        return f"{letters(column)}{row}"

    @cached_property
    def width(self) -> int:
        """The number of its last column."""
        return max((len(cells) for cells in self.rows.values()), default=0)

    @cached_property
    def merged_rows(self) -> frozenset[int]:
        """Rows in which a merged cell reaches over others of the row."""
        return frozenset(row for (row, _), origin in self.covered.items() if origin[0] == row)


def read_grids(file: str, content: bytes) -> list[Grid] | Problem:
    """Every sheet of a file that holds text; a text file is one sheet without a title."""
    suffix = PurePosixPath(file).suffix.casefold()
    if suffix in (".csv", ".tsv"):
        return _delimited(file, content)
    if suffix not in (".xlsx", ".ods"):
        return problem_in(file, 1, "A table is a .csv, .tsv, .xlsx or .ods file.", "Save it as one.", "unknown-table")
    if (refusal := refused_archive(file, content)) is not None:
        return refusal
    kind = "an .xlsx workbook" if suffix == ".xlsx" else "an .ods spreadsheet"
    try:
        return _workbook(file, content) if suffix == ".xlsx" else _opendocument(file, content)
    except TooLarge as limit:
        return limit.problem(file)
    except Exception as failure:  # damaged files raise whatever their layer raises
        return unreadable(file, kind, failure)


def _delimited(file: str, content: bytes) -> list[Grid] | Problem:
    repairs: Counter[str] = Counter()
    problems: list[Problem] = []
    rows = _filled(delimited_rows(file, content, repairs, problems))
    if problems:
        return problems[0]
    return [Grid(file, "", rows, repairs=+repairs)]


def _workbook(file: str, content: bytes) -> list[Grid]:
    import openpyxl  # slow to import, and most batches are text
    from openpyxl.utils.datetime import MAC_EPOCH

    from catalog.reading.sheets import Sheet

    book = openpyxl.load_workbook(io.BytesIO(content), read_only=True, data_only=True)
    day_zero = dt.date(1904, 1, 1) if book.epoch == MAC_EPOCH else dt.date(1899, 12, 30)
    grids = []
    for worksheet in book.worksheets:
        sheet = Sheet(book, worksheet)
        rows = _filled(sheet.rows())
        grids.append(
            Grid(
                file,
                worksheet.title,
                rows,
                _covered(sheet.merged),
                frozenset(sheet.hidden_rows),
                frozenset(place + 1 for place in sheet.hidden_columns),
                day_zero,
                worksheet.sheet_state == "visible",
            )
        )
    book.close()
    return grids


def _opendocument(file: str, content: bytes) -> list[Grid]:
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        sheets = open_sheets(archive)
    return [
        Grid(
            file,
            sheet.title,
            _filled(sheet.rows),
            _covered(sheet.merged),
            frozenset(sheet.hidden_rows),
            frozenset(place + 1 for place in sheet.hidden_columns),
            dt.date.fromisoformat(sheet.day_zero[:10]),
            sheet.shows,
        )
        for sheet in sheets
    ]


def _filled(rows: object) -> dict[int, list[str]]:
    filled: dict[int, list[str]] = {}
    for number, row in rows:  # type: ignore[attr-defined]
        cells = [cell.strip() if type(cell) is str else cell for cell in row]
        while cells and not cells[-1]:
            cells.pop()
        if cells:
            filled[number] = cells
    return filled


def _covered(merged: Sequence[tuple[int, int, int, int]]) -> dict[tuple[int, int], tuple[int, int]]:
    """Raises TooLarge for merged cells beyond any table."""
    covered: dict[tuple[int, int], tuple[int, int]] = {}
    for top, left, bottom, right in merged:
        if len(covered) + (bottom - top + 1) * (right - left + 1) > MOST_COVERED:
            raise TooLarge(f"The merged cell at {letters(left)}{top} covers more than a table has.", "too-long")
        for row in range(top, bottom + 1):
            for column in range(left, right + 1):
                if (row, column) != (top, left):
                    covered[row, column] = (top, left)
    return covered
