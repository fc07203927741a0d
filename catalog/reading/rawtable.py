"""A table as it was typed: rows of text that remember their file and row, and what had to be repaired."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import PurePosixPath

from catalog.errors import Problem
from catalog.reading.second_heading import is_second_heading
from catalog.reading.sources import place_of
from catalog.row_numbers import letters

MAX_ROWS = 1_000_000
MAX_COLUMNS = 500
MAX_TITLES = 3
LAST_ROW = MAX_ROWS + MAX_TITLES + 1  # of a sheet that holds text
MAX_CELL = 100_000  # characters; a spreadsheet allows 32,767


class Exact(str):
    """Text of a numeric spreadsheet cell: a decimal point and no thousands marks, so nothing to settle."""

    __slots__ = ()


class Formula(str):
    """A formula of a spreadsheet cell that has no stored value: there is something, but it cannot be read."""

    __slots__ = ()


class TooLarge(ValueError):
    """A sheet beyond the limits: why, as a sentence, and a stable code."""

    def __init__(self, sentence: str, code: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.code = code

    @classmethod
    def row(cls, number: int) -> TooLarge:
        """Text in a row that no table has."""
        return cls(f"A table has at most {MAX_ROWS:,} rows, and there is text in row {number:,}.", "too-long")

    @classmethod
    def column(cls, row: int) -> TooLarge:
        """Text in a column that no table has."""
        return cls(f"A table has at most {MAX_COLUMNS} columns, and row {row:,} has text beyond them.", "too-wide")

    def problem(self, file: str) -> Problem:
        """The same about *file*."""
        return problem_in(file, 1, self.sentence, "Clear what stands out there, or split the table.", self.code)


@dataclass(frozen=True)
class RawRow:
    """One row; *number* counts as a spreadsheet does, the first line of the file being 1."""

    number: int
    cells: Sequence[str]


@dataclass(frozen=True)
class RawTable:
    """One table file. Blank rows and rows of totals are gone; cells are trimmed, and as many as headers.

    file     name inside the batch folder, or the source where that is more than a file
    stem     name of the table it belongs to ("runs"), once that is known
    headers  where the heading has two rows, what stands above and below in one
    lower_headers  of such a heading the second row alone, else nothing
    problems what stops the file from being read, with its place
    notices  what was left out on the way, which a person should know
    repairs  kind of repair -> how often
    sheet    title of the sheet in a workbook, "" for a text file
    hidden_rows, hidden_columns  numbers of rows and places of columns with text that the sheet hides or filters out
    hidden_sheet  a hidden sheet of the workbook that would be read before this one if it showed
    map_file  the reading map it was read through, "" for none
    cells_of  of such a table: in which cell the value at a row's number and a column's place stands
    """

    file: str
    stem: str
    headers: Sequence[str] = ()
    lower_headers: Sequence[str] = ()
    header_row: int = 1
    rows: Sequence[RawRow] = ()
    problems: Sequence[Problem] = ()
    notices: Sequence[Problem] = ()
    repairs: Counter[str] = field(default_factory=Counter)
    sheet: str = ""
    hidden_rows: frozenset[int] = frozenset()
    hidden_columns: frozenset[int] = frozenset()
    hidden_sheet: RawTable | None = None
    map_file: str = ""
    cells_of: Callable[[int, int], str] | None = None

    def cell(self, number: int, place: int) -> str:
        """How a sentence speaks of a cell: "sheet Runs, C5", in a text file "C5"."""
        at = self.cell_name(number, place)
        if not at:
            return self.map_file
        return f"sheet {self.sheet}, {at}" if self.sheet else at

    def cell_name(self, number: int, place: int) -> str:
        """ "C5"; "" for a value that stands in no cell."""
        if self.cells_of is not None:
            return self.cells_of(number, place)
        return f"{letters(place + 1)}{number}"


# Words that open a row of totals, in the languages a spreadsheet's own function names are met in.
TOTALS = frozenset(
    {
        "total",
        "totals",
        "sum",
        "mean",
        "average",
        "avg",
        "median",
        "minimum",
        "maximum",
        "min",
        "max",
        "count",
    }
    | {"summe", "mittelwert", "mittel", "durchschnitt", "gesamt", "moyenne", "somme", "media", "totale"}
)


def table_stem(file: str) -> str:
    """ "runs" for "runs.csv"."""
    return PurePosixPath(file).stem.casefold()


def problem_in(
    source: str, row: int, expected: str, remedy: str, code: str, *, value: str = "", column: str = ""
) -> Problem:
    """A problem with a file or sheet as a whole or one of its rows."""
    place = place_of(source)
    return Problem(
        table=place.table,
        row=row,
        column=column,
        value=value,
        expected=expected,
        remedy=remedy,
        code=code,
        file=place.file,
        sheet=place.sheet,
        by_cell=place.mapped,
    )


def too_long(file: str, row: int) -> Problem:
    """Why a table of so many rows is refused; nothing of it is read then."""
    limit = f"A table has at most {MAX_ROWS:,} rows; this one is longer."
    return problem_in(file, row, limit, "Split it into several batches.", "too-long")


def table_from_rows(
    file: str, rows: Iterable[tuple[int, Sequence[str]]], repairs: Counter[str], *, of_results: bool = True
) -> RawTable:
    """Rows of any reader as a table: the first row with text is the header, blanks and totals are dropped.

    of_results  rows of units and of totals are told from others; names of things may be any words
    """
    headers: list[str] | None = None
    lower: list[str] = []
    header_row = 1
    kept: list[RawRow] = []
    problems: list[Problem] = []
    last = 0  # number of the last row with text
    for number, row in _from_header(rows, repairs):
        cells = [cell.strip() if type(cell) is str else cell for cell in row]
        if not any(cells):
            continue
        if headers is None:
            while cells and not cells[-1]:
                cells.pop()
            headers, header_row, last = cells, number, number
            if len(headers) > MAX_COLUMNS:
                limit = f"A table has at most {MAX_COLUMNS} columns; this one has {len(headers):,}."
                return RawTable(file, table_stem(file), problems=[problem_in(file, number, limit, "", "too-wide")])
            continue
        if of_results and number == header_row + 1 and is_second_heading(cells):
            headers, lower = _joined(headers, cells)
            repairs["heading of two rows"] += 1
            last = number
            continue
        if len(kept) >= MAX_ROWS:
            return RawTable(file, table_stem(file), problems=[too_long(file, number)])
        repairs["blank row"] += number - last - 1  # those at the end of a file are nothing to report
        last = number
        width = len(headers)
        if any(cells[width:]):
            problems.append(
                problem_in(
                    file,
                    number,
                    f"The row has {_used(cells)} cells, but the header names {width} columns.",
                    "Is a decimal comma being read as a separator? Quote the cell or use semicolons.",
                    "too-many-cells",
                    value=next(cell for cell in cells[width:] if cell),
                )
            )
            continue
        cells = cells[:width] + [""] * (width - len(cells))
        if of_results and _is_totals(cells):
            repairs["totals row"] += 1
            continue
        kept.append(RawRow(number, cells))
    if headers is None:
        problems.append(
            problem_in(file, 1, "The file has no header row.", "Write the column names in row 1.", "no-header")
        )
    return RawTable(file, table_stem(file), headers or (), lower, header_row, kept, problems, repairs=+repairs)


def _from_header(
    rows: Iterable[tuple[int, Sequence[str]]], repairs: Counter[str]
) -> Iterator[tuple[int, Sequence[str]]]:
    """Rows from the header on. Up to three titles above it, one cell each, are left out and counted."""
    remaining = iter(rows)
    titles: list[tuple[int, Sequence[str]]] = []
    for number, row in remaining:
        filled = sum(bool(cell.strip()) for cell in row)
        if filled == 1 and len(titles) < MAX_TITLES:
            titles.append((number, row))
            continue
        if filled == 0:
            continue
        if filled == 1:  # a table of one column
            yield from titles
        elif titles:
            repairs["title row"] += len(titles)
        titles = []
        yield number, row
        break
    yield from titles
    yield from remaining


def _joined(headers: Sequence[str], below: Sequence[str]) -> tuple[list[str], list[str]]:
    """Both rows in one, and the second alone. A merged cell counts for every column under it."""
    joined: list[str] = []
    lower: list[str] = []
    over = ""
    for upper, cell in itertools.zip_longest(headers, below, fillvalue=""):
        over = upper or over
        joined.append(f"{over} {cell}" if cell else upper)
        lower.append(cell)
    while joined and not joined[-1]:
        joined.pop()
        lower.pop()
    return joined, lower


def _used(cells: Sequence[str]) -> int:
    return max(place for place, cell in enumerate(cells, start=1) if cell)


def _is_totals(cells: Sequence[str]) -> bool:
    """Whether a row sums up others: it opens with such a word and leaves at least a quarter of its cells blank."""
    first = next(cell for cell in cells if cell)
    blank = sum(not cell for cell in cells)
    return first.rstrip(":").casefold() in TOTALS and 4 * blank >= len(cells)
